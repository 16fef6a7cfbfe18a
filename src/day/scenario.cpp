#include "day/scenario.hpp"

#include <algorithm>

namespace tillwrap::day {

std::vector<Span> windows(const Scenario& scenario, int place, double until_s) {
  std::vector<Span> closed;
  for (const NoHands& stretch : scenario.no_hands) {
    if (stretch.place == place) closed.push_back({stretch.from_s, stretch.until_s});
  }
  std::sort(closed.begin(), closed.end(), [](const Span& a, const Span& b) { return a.from_s < b.from_s; });
  std::vector<Span> open;
  double from_s = scenario.periods.empty() ? 0.0 : scenario.periods.front().from_s;
  for (const Span& stretch : closed) {
    if (stretch.from_s > from_s) open.push_back({from_s, std::min(stretch.from_s, until_s)});
    from_s = std::max(from_s, stretch.until_s);
  }
  if (from_s < until_s) open.push_back({from_s, until_s});
  std::erase_if(open, [until_s](const Span& s) { return s.from_s >= until_s; });
  return open;
}

double place_k(const Place& place, double air_k) {
  switch (place.kind) {
    case Place::Kind::fixed:
      return place.fixed_k;
    case Place::Kind::between:
      return air_k + place.share * (place.fixed_k - air_k);
    case Place::Kind::air:
    case Place::Kind::bag:
      break;
  }
  return air_k;
}

cell::ChargeLaw law_in_bay(const Pack& pack, double charge_a, double end_fraction, double put_in) {
  cell::ChargeLaw law{
      .way = pack.by_coulombs ? cell::ChargeWay::by_coulombs : cell::charge_way(pack.params.cell.chemistry),
      .current_a = charge_a,
      .end_v = pack.charge_v,
      .end_a = end_fraction * charge_a,
      .put_in = put_in,
      .taper_v = pack.taper_v,
      .coldest_k = pack.coldest_charge_k,
      .hottest_k = pack.hottest_charge_k};
  if (law.way == cell::ChargeWay::three_stages) law.float_v = cell::kFloatCell_v * pack.params.series;
  return law;
}

double copper_factor(double temperature_k) { return 1.0 + 0.00393 * (temperature_k - 293.15); }

}  // namespace tillwrap::day
