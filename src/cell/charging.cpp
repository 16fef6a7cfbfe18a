#include "cell/charging.hpp"

#include <algorithm>
#include <cmath>

#include "quantity/maths.hpp"

namespace tillwrap::cell {

namespace {

constexpr double kFirstStep_s = 1.0;
constexpr double kLongestStep_s = 20.0;
constexpr double kTaperEnd = 0.01;
constexpr double kMostVoltsCell_by_coulombs = 2.0;  // no limit: a nickel cell stays below 1.6 V
constexpr double kCoolBack_k = 2.0;                 // a pack that got too warm goes on this much cooler
constexpr int kMostSolves = 60;
constexpr double kSameVolts = 1e-9;
constexpr double kSameCurrent = 1e-7;  // of the full current

// The part of the coulombs the cells keep, with the state after it. A lead or nickel cell stores nothing above charge
// 1: what goes in then makes gas that recombines.
PackState stored(const ChargeLaw& law, const PackParams& pack, const CellRates& rates, const PackState& state,
                 double step_s, double start_a, double end_a) {
  PackState next = advance(pack, rates, state, step_s, start_a, end_a);
  if (law.way == ChargeWay::constant_volts || next.cell.charge <= 1.0) return next;
  next.cell.charge = 1.0;
  next.weak_charge = std::min(next.weak_charge, 1.0);
  return next;
}

}  // namespace

ChargeWay charge_way(Chemistry chemistry) {
  switch (chemistry) {
    case Chemistry::nimh:
    case Chemistry::nimh_lsd:
      return ChargeWay::by_coulombs;
    case Chemistry::vrla_agm:
    case Chemistry::vrla_gel:
      return ChargeWay::three_stages;
    default:
      return ChargeWay::constant_volts;
  }
}

bool can_charge(Chemistry chemistry) {
  return chemistry != Chemistry::alkaline && chemistry != Chemistry::lithium_iron_disulfide;
}

ChargeOffer charge_offer(const ChargeLaw& law, const PackParams& pack, double charge, bool full) {
  ChargeOffer offer{.live = true, .volts = law.end_v, .limit_a = law.current_a};
  if (law.way == ChargeWay::by_coulombs) {
    offer.volts = kMostVoltsCell_by_coulombs * pack.series;
    offer.live = !full;
  } else if (law.way == ChargeWay::three_stages) {
    const double capacity_as = pack.cell.capacity_as * pack.parallel;
    offer.limit_a = std::min(law.current_a, std::max(0.0, (1.0 - charge) * capacity_as * kLeadAccept_per_s));
    if (full) offer.volts = law.float_v;
  }
  return offer;
}

double taper_ohm(const ChargeLaw& law, const PackParams& pack, double charge) {
  if (law.way != ChargeWay::constant_volts || law.taper_v <= 0.0) return 0.0;
  const double capacity_ah = pack.cell.capacity_as * pack.parallel / 3600.0;
  return pack.series * law.taper_v / (capacity_ah * std::max(kTaperEnd + 1.0 - charge, 0.2 * kTaperEnd));
}

double coulombs_end(const ChargeLaw& law, const CellParams& cell, double from_charge) {
  return std::min(1.0, from_charge + law.put_in * cell.charge_efficiency * (1.0 - from_charge));
}

// Volts fall as I rises towards discharge; Newton kept inside a bracket on -limit <= I <= 0.
double charge_current_a(const PackParams& pack, const CellRates& rates, const PackState& state,
                        const ChargeOffer& offer, double extra_ohm) {
  if (!offer.live || offer.limit_a <= 0.0) return 0.0;
  double low = -offer.limit_a;
  double high = 0.0;
  if (evaluate(pack, rates, state, low).volts - low * extra_ohm <= offer.volts) return low;
  if (evaluate(pack, rates, state, high).volts >= offer.volts) return 0.0;
  double at = low;
  for (int k = 0; k < kMostSolves && high - low > 1e-9 * offer.limit_a; ++k) {
    const PackPoint point = evaluate(pack, rates, state, at);
    const double over_v = point.volts - at * extra_ohm - offer.volts;
    if (std::fabs(over_v) < kSameVolts) break;
    (over_v > 0.0 ? low : high) = at;
    const double next = at - over_v / (point.slope_ohm - extra_ohm);
    at = next > low && next < high ? next : 0.5 * (low + high);
  }
  return at;
}

ChargeRun charge(const PackParams& pack, const ChargeLaw& law, const PackState& start, const ChargeWhile& conditions) {
  ChargeRun run{.warmest_k = start.cell.temperature_k, .end = start};
  PackState& now = run.end;
  const double begun = conditions.begun_charge >= 0.0 ? conditions.begun_charge : start.cell.charge;
  const double wanted_as = law.put_in * (1.0 - begun) * pack.cell.capacity_as * pack.parallel;
  const double needed_as = std::max(0.0, wanted_as - conditions.already_as);
  bool paused_hot = false;
  double next_row_s = 0.0;
  double usual_s = kFirstStep_s;
  double amps = 0.0;
  CellRates rates = rates_at(pack.cell, now.cell.temperature_k);
  const auto allowed = [&] {
    const double k = now.cell.temperature_k;
    if (paused_hot) paused_hot = k > law.hottest_k - kCoolBack_k;
    if (k > law.hottest_k) paused_hot = true;
    return !paused_hot && k >= law.coldest_k;
  };
  const auto current = [&](const CellRates& at_rates, const PackState& state) {
    return charge_current_a(pack, at_rates, state, charge_offer(law, pack, state.cell.charge, false),
                            taper_ohm(law, pack, state.cell.charge));
  };
  const auto over = [&](double a) {
    if (law.way == ChargeWay::by_coulombs) return run.put_in_as >= needed_as - 1e-9 * wanted_as;
    return -a <= law.end_a && -a < law.current_a * (1.0 - 1e-9);
  };
  const auto row = [&](bool last) {
    if (conditions.row_s <= 0.0 || (!last && run.duration_s < next_row_s)) return;
    next_row_s += conditions.row_s;
    run.curve.push_back({.at_s = run.duration_s,
                         .volts = evaluate(pack, rates, now, amps).volts,
                         .current_a = amps,
                         .charge = now.cell.charge,
                         .put_in_as = run.put_in_as,
                         .temperature_k = now.cell.temperature_k});
  };
  bool live = allowed();
  amps = live ? current(rates, now) : 0.0;
  row(false);
  while (run.duration_s < conditions.longest_s) {
    if (live && over(amps)) {
      run.full = true;
      break;
    }
    double step_s = std::min(usual_s, conditions.longest_s - run.duration_s);
    usual_s = std::min(1.2 * usual_s, kLongestStep_s);
    if (law.way == ChargeWay::by_coulombs && amps < 0.0) step_s = std::min(step_s, (needed_as - run.put_in_as) / -amps);
    const double k0 = now.cell.temperature_k;
    const PackPoint before = evaluate(pack, rates, now, amps);
    const auto heat_w = [&](double a, const PackPoint& at, double kept) {
      return a * at.lost_v - a * at.open_v * (1.0 - kept);
    };
    const bool brim = law.way != ChargeWay::constant_volts && now.cell.charge >= 1.0;
    const double kept = amps < 0.0 ? (brim ? 0.0 : pack.cell.charge_efficiency) : 1.0;
    // Predict with the current as it is, correct with the one found at the end.
    const double guess_k = warmed_k(pack, k0, step_s, heat_w(amps, before, kept), conditions.surround_k);
    const CellRates middle = rates_at(pack.cell, 0.5 * (k0 + guess_k));
    const CellRates ahead = rates_at(pack.cell, guess_k);
    PackState trial;
    double end_a = live ? amps : 0.0;
    const auto leads_to = [&](double a) {
      trial = stored(law, pack, middle, now, step_s, amps, a);
      trial.cell.temperature_k = guess_k;
      return live ? current(ahead, trial) : 0.0;
    };
    // The end current is the one that the state it leads to takes. The more goes in the less is taken, so there is one;
    // near full, where it hangs on the last thousandth of charge, taking the next for the last would swing ever wider.
    double more_a = -law.current_a;
    double less_a = 0.0;
    double last_a = end_a;
    double last_gap_a = 0.0;
    for (int k = 0; k < kMostSolves; ++k) {
      const double gap_a = leads_to(end_a) - end_a;
      if (std::fabs(gap_a) <= kSameCurrent * law.current_a) break;
      (gap_a > 0.0 ? more_a : less_a) = end_a;
      double next_a = end_a + gap_a;
      if (k > 0 && gap_a != last_gap_a) next_a = end_a - gap_a * (end_a - last_a) / (gap_a - last_gap_a);
      last_a = end_a;
      last_gap_a = gap_a;
      end_a = next_a > more_a && next_a < less_a ? next_a : 0.5 * (more_a + less_a);
    }
    // The step that ends the taper is cut where it does.
    if (live && law.way != ChargeWay::by_coulombs && -end_a < law.end_a && -amps > law.end_a) {
      const double share = (-amps - law.end_a) / (end_a - amps);
      step_s *= std::clamp(share, 0.0, 1.0);
      trial = stored(law, pack, middle, now, step_s, amps, -law.end_a);
      end_a = -law.end_a;
    }
    const PackPoint after = evaluate(pack, ahead, trial, end_a);
    const double mean_a = 0.5 * (amps + end_a);
    const double heat = 0.5 * (heat_w(amps, before, kept) + heat_w(end_a, after, kept));
    trial.cell.temperature_k = warmed_k(pack, k0, step_s, heat, conditions.surround_k);
    const double gained_as = (trial.cell.charge - now.cell.charge) * pack.cell.capacity_as * pack.parallel;
    run.put_in_as += -mean_a * step_s;
    run.put_in_j += -0.5 * (amps * before.volts + end_a * after.volts) * step_s;
    run.stored_as += gained_as;
    run.stored_j += pack.series * pack.parallel * pack.cell.capacity_as *
                    pack.cell.ocv.integral(now.cell.charge, trial.cell.charge);
    run.heat_j += heat * step_s;
    if (!live) run.waited_s += step_s;
    if (live && -amps >= law.current_a * (1.0 - 1e-9) && -end_a >= law.current_a * (1.0 - 1e-9)) {
      run.constant_s += step_s;
      run.constant_as += -mean_a * step_s;
    }
    now = trial;
    run.duration_s += step_s;
    run.warmest_k = std::max(run.warmest_k, now.cell.temperature_k);
    rates = rates_at(pack.cell, now.cell.temperature_k);
    live = allowed();
    amps = live ? end_a : 0.0;
    if (live && end_a == 0.0) amps = current(rates, now);
    row(false);
    if (law.way == ChargeWay::by_coulombs && over(amps)) {
      run.full = true;
      break;
    }
  }
  row(true);
  return run;
}

PackState rested_after_use(const PackParams& pack, double charge, double temperature_k) {
  PackState state = rested(pack, charge, temperature_k);
  state.weak_charge = std::max(0.0, 1.0 - (1.0 - charge) / pack.weak_fraction);
  return state;
}

double seconds_to(const PackParams& pack, double start_k, double surround_k, double wanted_k) {
  const bool rising = surround_k > start_k;
  if (rising ? start_k >= wanted_k : start_k <= wanted_k) return 0.0;
  if (rising ? surround_k <= wanted_k : surround_k >= wanted_k) return std::numeric_limits<double>::infinity();
  if (pack.cooling_w_k <= 0.0) return std::numeric_limits<double>::infinity();
  // (T - Ts) = (T0 - Ts) exp(-t hA / C)
  return pack.heat_capacity_j_k / pack.cooling_w_k * maths::log((start_k - surround_k) / (wanted_k - surround_k));
}

}  // namespace tillwrap::cell
