#include "app/kit_now.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/words.hpp"
#include "cell/resting.hpp"
#include "quantity/maths.hpp"

namespace tillwrap::app {

namespace {

constexpr double kIndoors_k = 293.15;  // where nobody said how warm it is; common practice, no source
// Cells of a kind differ by half in what they lose (a month of lithium: 2 to 8 % by secondary sources): one standard
// deviation of ln(rate), from memory.
constexpr double kRateDoubt = 0.5;

// One standard deviation of a told charge: a charger's "full", what somebody read off a gauge or from volts.
double told_sd(journal::Event by) { return by == journal::Event::charged ? 0.02 : 0.05; }

}  // namespace

std::optional<health::Band> charge_now(const journal::PackState& pack, const catalogue::PackKind& kind,
                                       const catalogue::CellKind& cell, const PackHistory& history, std::int64_t now_us,
                                       std::vector<std::string>& notes) {
  if (!pack.charge || pack.charge->at_us > now_us) return std::nullopt;
  const cell::PackParams params =
      catalogue::pack_params(kind, cell,
                             {.capacity_fraction = std::clamp(history.capacity.middle, 0.2, 1.2),
                              .resistance_factor = std::clamp(history.resistance.middle, 0.3, 10.0)});
  const journal::ToldCharge& told = *pack.charge;
  const double capacity_ah = params.cell.capacity_as * params.parallel / 3600.0;
  const double at_first = std::max(0.0, told.fraction - told.drawn_ah / capacity_ah);
  if (told.drawn_ah > 0.0)
    notes.push_back(fmt::format("{:.3g} Ah used since its charge was told are taken off", told.drawn_ah));
  double unknown_us = 0.0;  // how long it lay where nobody said how warm it was
  bool in_holder = false;
  const auto after = [&](double rate_factor) {
    double charge = at_first;
    std::int64_t from_us = told.at_us;
    journal::Stay where;
    for (std::size_t k = 0; k <= pack.stays.size(); ++k) {
      const bool last = k == pack.stays.size();
      const std::int64_t until_us = last ? now_us : std::clamp(pack.stays[k].since_us, from_us, now_us);
      if (until_us > from_us) {
        if (!where.temperature_k && rate_factor == 1.0) unknown_us += static_cast<double>(until_us - from_us);
        in_holder = in_holder || (last && !where.holder.empty());
        charge = cell::charge_after_rest(params, charge,
                                         {.for_s = static_cast<double>(until_us - from_us) / 1e6,
                                          .temperature_k = where.temperature_k.value_or(kIndoors_k),
                                          .in_holder = !where.holder.empty(),
                                          .rate_factor = rate_factor});
        from_us = until_us;
      }
      if (!last) where = pack.stays[k];
    }
    return charge;
  };
  const double spread = maths::exp(health::kBand * kRateDoubt);
  const double doubt = health::kBand * told_sd(told.by);
  health::Band out{.low = after(spread) - doubt, .middle = after(1.0), .high = after(1.0 / spread) + doubt};
  out.low = std::clamp(out.low, 0.0, 1.0);
  out.high = std::clamp(out.high, 0.0, 1.0);
  if (unknown_us > static_cast<double>(journal::kDay_us))
    notes.emplace_back("nobody said how warm it lay: 20 °C taken");
  if (in_holder) notes.emplace_back("it is in a holder: what the kit drew since is not in its charge");
  return out;
}

KitAnswer kit_now(journal::State state, const catalogue::Catalogue& catalogue, std::int64_t now_us) {
  KitAnswer out{.state = std::move(state), .packs = {}, .now_us = now_us};
  // Each history once: packs bought together are held to one another.
  for (const journal::PackState& pack : out.state.packs)
    out.packs.push_back(
        {.facts = &pack, .kind = catalogue.pack(pack.kind), .history = pack_history(pack, catalogue, now_us)});
  const auto history_of = [&](const journal::PackState& pack) {
    return out.packs[static_cast<std::size_t>(&pack - out.state.packs.data())].history;
  };
  for (KitPack& one : out.packs) {
    const journal::PackState& pack = *one.facts;
    if (one.kind == nullptr) {
      one.notes.push_back(pack.kind.empty() ? "its kind was never told"
                                            : "the catalogue has no pack \"" + pack.kind.substr(0, 60) + "\"");
    } else if (!pack.retired) {
      one.charge = charge_now(pack, *one.kind, *catalogue.cell(one.kind->cell), one.history, now_us, one.notes);
      one.twin = weak_twin(out.state, pack, one.history, history_of);
    }
    one.advice = advice(pack, one.history, one.twin, now_us);
  }
  return out;
}

}  // namespace tillwrap::app
