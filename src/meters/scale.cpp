#include "meters/scale.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "forecast/bench_run.hpp"
#include "meters/curve.hpp"
#include "meters/profiles.hpp"
#include "quantity/order.hpp"

namespace tillwrap::meters {

namespace {

constexpr double kRoom_k = 293.15;
constexpr std::size_t kRows = 500;
constexpr int kPoints = 100;
constexpr double kWarnLeft = 0.2;
constexpr double kRated_per_hour = 0.2;
constexpr double kShortest_s = 600.0;  // a pack that ends sooner is not what the device is made for
constexpr double kVoltsError = 1e-4;
constexpr double kLeastStep_v = 1e-3;

// Volts against the energy still to come. Between two rows of the run volts and amps go straight, so the energy bends:
// each stretch is taken in parts.
Curve discharged(const cell::PackParams& pack, const forecast::BenchLoad& load, double end_v) {
  const std::vector<forecast::BenchPoint> rows =
      forecast::bench_run(pack, load, {.ambient_k = kRoom_k, .start_k = kRoom_k, .charge = 1.0},
                          {.stop_v = end_v, .volts_error = kVoltsError, .curve_points = kRows})
          .curve;
  Curve curve;
  double before_w = 0.0;
  for (std::size_t k = 0; k < rows.size(); ++k) {
    const forecast::BenchPoint& to = rows[k];
    const forecast::BenchPoint& from = rows[k == 0 ? 0 : k - 1];
    const int parts =
        k == 0 ? 1 : 1 + static_cast<int>(static_cast<double>(kRows) * (to.t_s - from.t_s) / rows.back().t_s);
    for (int part = 1; part <= parts; ++part) {
      const double share = static_cast<double>(part) / parts;
      const double t_s = from.t_s + share * (to.t_s - from.t_s);
      const double volts = from.volts + share * (to.volts - from.volts);
      const double watts = volts * (from.current_a + share * (to.current_a - from.current_a));
      if (k > 0) curve.usable_j += 0.5 * (watts + before_w) * (t_s - curve.at_s.back());
      before_w = watts;
      curve.at_s.push_back(t_s);
      curve.volts.push_back(volts);
      curve.left.push_back(curve.usable_j);
    }
  }
  for (double& left : curve.left) left = curve.usable_j > 0.0 ? 1.0 - left / curve.usable_j : 0.0;
  return curve;
}

}  // namespace

UsualLoad usual_load(const catalogue::DeviceKind& kind) {
  UsualLoad load;
  if (!kind.modes.empty()) {
    load.draw_w = kind.modes.front().draw_w.typical;
    load.draw_a = kind.modes.front().draw_a.typical;
  }
  for (const catalogue::DeviceInput& input : kind.inputs) {
    if (load.least_cutoff_v <= 0.0 || input.cutoff_v < load.least_cutoff_v) load.least_cutoff_v = input.cutoff_v;
  }
  return load;
}

cell::PackParams typical_pack(const catalogue::Catalogue& catalogue, const std::string& family, int cells) {
  std::vector<const catalogue::PackKind*> packs;
  int away = 0;
  for (const catalogue::PackKind& kind : catalogue.packs) {
    const catalogue::CellKind* cell = catalogue.cell(kind.cell);
    if (cell == nullptr || kind.regulator || !kind.profiles.empty() || family_of(cell->params.chemistry) != family)
      continue;
    const int off = std::abs(kind.series - cells);
    if (packs.empty() || off < away) {
      packs.clear();
      away = off;
    }
    if (off == away) packs.push_back(&kind);
  }
  if (packs.empty()) throw std::invalid_argument("no pack of chemistry " + family);
  const auto middle = packs.begin() + static_cast<std::ptrdiff_t>((packs.size() - 1) / 2);
  sort_stably(packs,
              [](const catalogue::PackKind* a, const catalogue::PackKind* b) { return a->rated_wh < b->rated_wh; });
  cell::PackParams pack = catalogue::pack_params(**middle, *catalogue.cell((*middle)->cell));
  if (pack.series != cells) {
    const double times = static_cast<double>(cells) / pack.series;
    pack.series = cells;
    pack.heat_capacity_j_k *= times;
    pack.cooling_w_k *= times;
    pack.protection.under_v *= times;
  }
  return pack;
}

Scale calibrated(const cell::PackParams& pack, const UsualLoad& load, double end_v) {
  const double rated_a = kRated_per_hour * pack.parallel * pack.cell.capacity_as / 3600.0;
  forecast::BenchLoad bench{.kind = forecast::BenchLoad::Kind::current, .value = rated_a};
  if (load.draw_w > 0.0) {
    bench = {.kind = forecast::BenchLoad::Kind::power, .value = load.draw_w};
  } else if (load.draw_a > 0.0) {
    bench.value = load.draw_a;
  }
  const double stop_v = std::max(end_v, load.least_cutoff_v);
  Curve curve = discharged(pack, bench, stop_v);
  if (curve.end_s() < kShortest_s) curve = discharged(pack, bench, end_v);
  if (curve.end_s() < kShortest_s)
    curve = discharged(pack, {.kind = forecast::BenchLoad::Kind::current, .value = rated_a}, end_v);
  std::vector<double> volts, share;
  for (int k = 0; k <= kPoints; ++k) {
    const double left = static_cast<double>(k) / kPoints;
    const double at_v = curve.volts_at(curve.time_when_left(left));
    // Where the volts stand still, or rise as the pack warms, the display stays at what it showed there first.
    if (!volts.empty() && at_v < volts.back() + kLeastStep_v) continue;
    volts.push_back(at_v);
    share.push_back(left);
  }
  if (share.back() < 1.0) share.back() = 1.0;
  return {.share = tillwrap::Curve(volts, share), .warn_v = curve.volts_at(curve.time_when_left(kWarnLeft))};
}

Profile on_device(const catalogue::Catalogue& catalogue, const catalogue::MeterProfile& kind, const UsualLoad& load) {
  return {.id = kind.id,
          .title = kind.title,
          .chemistry = kind.chemistry,
          .cells = kind.cells,
          .scale = calibrated(typical_pack(catalogue, kind.chemistry, kind.cells), load, kind.empty_v)};
}

std::optional<Profile> known_profile(const catalogue::Catalogue& catalogue, const kit::DeviceItem& item) {
  if (item.kind == nullptr) return std::nullopt;
  const bool only_one = item.meter.empty() && item.kind->meters.size() == 1;
  const catalogue::MeterProfile* kind = catalogue.meter(only_one ? item.kind->meters.front() : item.meter);
  if (kind == nullptr) return std::nullopt;
  return on_device(catalogue, *kind, usual_load(*item.kind));
}

}  // namespace tillwrap::meters
