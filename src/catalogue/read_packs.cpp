// Cell sets and packs.
#include <algorithm>
#include <array>
#include <cmath>

#include "catalogue/reading.hpp"

namespace tillwrap::catalogue {
namespace {

constexpr std::array<std::pair<std::string_view, cell::Chemistry>, 10> kChemistries = {{
    {"nmc", cell::Chemistry::nmc},
    {"nca", cell::Chemistry::nca},
    {"lco", cell::Chemistry::lco},
    {"lfp", cell::Chemistry::lfp},
    {"nimh", cell::Chemistry::nimh},
    {"nimh-lsd", cell::Chemistry::nimh_lsd},
    {"alkaline", cell::Chemistry::alkaline},
    {"lithium-iron-disulfide", cell::Chemistry::lithium_iron_disulfide},
    {"vrla-agm", cell::Chemistry::vrla_agm},
    {"vrla-gel", cell::Chemistry::vrla_gel},
}};

Curve curve(TableReader& reader, std::string_view key) {
  std::vector<double> x;
  std::vector<double> y;
  for (const auto& row : rows(reader, key, 2)) {
    x.push_back(row[0]);
    y.push_back(row[1]);
  }
  try {
    return {std::move(x), std::move(y)};
  } catch (const std::invalid_argument& error) {
    reader.fail(key, reader.what() + ": \"" + std::string(key) + "\": " + error.what(),
                "write [[charge, value], ...] with rising charge");
  }
}

Curve maybe_curve(TableReader& reader, std::string_view key) {
  if (reader.node().find(key) == nullptr) {
    reader.allow(key);
    return {};
  }
  return curve(reader, key);
}

std::array<double, 2> pair_of(TableReader& reader, std::string_view key) {
  const std::vector<double> written = reader.numbers(key);
  if (written.size() > 2)
    reader.fail(key, reader.what() + ": \"" + std::string(key) + "\" has more than two numbers",
                "one or two lag modes");
  std::array<double, 2> out{};
  std::copy(written.begin(), written.end(), out.begin());
  return out;
}

}  // namespace

CellKind read_cell_table(TableReader& r, Origin origin) {
  CellKind kind;
  read_entry(r, kind, origin);
  cell::CellParams& p = kind.params;
  p.name = kind.id;
  p.chemistry = word_of(r, "chemistry", kChemistries);
  p.rated_ah = r.number("rated_ah", kPositive);
  p.capacity_as = r.number("capacity_ah", kPositive) * 3600.0;
  p.ocv = curve(r, "ocv");
  if (!std::is_sorted(p.ocv.knots_y().begin(), p.ocv.knots_y().end(), std::less_equal<>())) {
    r.fail("ocv", r.what() + ": \"ocv\" does not rise with charge", "write [[charge, volts], ...], both rising");
  }
  p.lag_gain = pair_of(r, "lag_gain");
  p.lag_rate = pair_of(r, "lag_rate");
  p.surface_gain = r.number_or("surface_gain", 0.0, kNotNegative);
  p.diffusion_s = r.number("diffusion_s", kNotNegative);
  p.diffusion_activation_k = r.number_or("diffusion_activation_k", 0.0);
  p.diffusion_shape = maybe_curve(r, "diffusion_shape");
  p.cold_tail = r.number_or("cold_tail", 0.0, kNotNegative);
  p.cold_tail_width = r.number_or("cold_tail_width", 0.2, kPositive);
  p.series_ohm = r.number("series_ohm", kNotNegative);
  p.electrolyte_ohm = r.number("electrolyte_ohm", kNotNegative);
  p.electrolyte_activation_k = r.number_or("electrolyte_activation_k", 0.0);
  p.resistance_shape = maybe_curve(r, "resistance_shape");
  p.exchange_a = r.number_or("exchange_a", 0.0, kNotNegative);
  p.exchange_activation_k = r.number_or("exchange_activation_k", 0.0);
  p.exchange_alpha = r.number_or("exchange_alpha", 0.0);
  p.exchange_shape = maybe_curve(r, "exchange_shape");
  p.exchange_electrodes = r.number_or("exchange_electrodes", 1.0, kPositive);
  p.exchange_s = r.number_or("exchange_s", 0.0, kNotNegative);
  p.rc_ohm = r.number_or("rc_ohm", 0.0, kNotNegative);
  p.rc_s = r.number_or("rc_s", 35.0, kPositive);
  p.heat_capacity_j_k = r.number("heat_capacity_j_k", kPositive);
  p.cooling_w_k = r.number("cooling_w_k", kNotNegative);
  p.charge_efficiency = r.number_or("charge_efficiency", 1.0, kShare);
  p.self_discharge_per_month = r.number_or("self_discharge_per_month", 0.0, kShare);
  p.cutoff_v = r.number("cutoff_v", kNotNegative);
  r.finish();
  return kind;
}

PackKind read_pack(TableReader& r) {
  PackKind kind;
  read_entry(r, kind);
  kind.cell = r.text("cell");
  kind.rated_ah = r.number("rated_ah", kPositive);
  kind.nominal_v = r.number("nominal_v", kPositive);
  kind.rated_wh = r.number("rated_wh", kPositive);
  kind.series = static_cast<int>(r.integer("series", 1, 100));
  kind.parallel = static_cast<int>(r.integer_or("parallel", 1, 100, 1));
  kind.electronics_ohm = r.quantity_or("electronics", Dimension::resistance, 0.0, kNotNegative);
  kind.weak_fraction = r.number_or("weak_fraction", 1.0, {.most = 1.0, .above = 0.0});
  kind.idle_a = r.quantity_or("idle", Dimension::current, 0.0, kNotNegative);
  kind.has_gauge = r.boolean_or("has_gauge", false);
  if (auto p = r.maybe_table("protection")) {
    kind.protection.under_v = p->quantity_or("under", Dimension::voltage, 0.0, kNotNegative);
    kind.protection.under_cell_v = p->quantity_or("under_cell", Dimension::voltage, 0.0, kNotNegative);
    kind.protection.over_current_a = p->quantity_or("over_current", Dimension::current, 0.0, kNotNegative);
    kind.protection.over_current_s = p->quantity_or("over_current_s", Dimension::duration, 0.0, kNotNegative);
    kind.protection.coldest_k = p->quantity_or("coldest", Dimension::temperature, 0.0);
    kind.protection.hottest_k = p->quantity_or("hottest", Dimension::temperature, 0.0);
    kind.protection.low_load_a = p->quantity_or("low_load", Dimension::current, 0.0, kNotNegative);
    kind.protection.low_load_s = p->quantity_or("low_load_s", Dimension::duration, 0.0, kNotNegative);
    kind.protection.latches = p->boolean_or("latches", false);
    p->finish();
  }
  kind.mass_kg = r.quantity("mass", Dimension::mass, kPositive);
  kind.heat_capacity_j_k = r.quantity("heat_capacity", Dimension::heat_capacity, kPositive);
  kind.cooling_w_k = r.quantity("cooling", Dimension::conductance_heat, kNotNegative);
  kind.plug = r.text_or("plug", "");
  kind.taps = r.texts_or_none("taps");
  kind.regulator = maybe_regulator(r);
  kind.profiles = profiles(r);
  if (const auto gap = maybe_estimate(r, "renegotiation", Dimension::duration)) kind.renegotiation_s = gap->typical;
  kind.charge_amps = r.quantity_or("charge", Dimension::current, 0.0, kNotNegative);
  kind.charge_volts = r.quantity_or("charge_v", Dimension::voltage, 0.0, kNotNegative);
  TableReader travel = r.table("travel");
  kind.travel.kind = word_of(travel, "kind", kTravelKinds);
  kind.travel.rated_wh = kind.rated_wh;
  kind.travel.lithium_g = travel.number_or("lithium_g", 0.0, kNotNegative);
  kind.travel.is_power_bank = travel.boolean_or("is_power_bank", false);
  kind.travel.may_be_power_bank = travel.boolean_or("may_be_power_bank", false);
  kind.travel.pieces = static_cast<int>(travel.integer_or("pieces", 1, 100, 1));
  travel.finish();
  kind.price_usd = r.number_or("price_usd", 0.0, kNotNegative);
  // The label's own arithmetic: nominal volts times rated Ah.
  if (std::fabs(kind.nominal_v * kind.rated_ah / kind.rated_wh - 1.0) > 0.02) {
    r.fail("rated_wh", r.what() + ": \"rated_wh\" is not nominal volts times rated Ah", "within 2 %");
  }
  r.finish();
  return kind;
}

cell::PackParams pack_params(const PackKind& kind, const CellKind& cell_kind, const cell::Ageing& age) {
  cell::PackParams p;
  p.kind = kind.id;
  p.cell = cell::aged(cell::scaled_to(cell_kind.params, kind.rated_ah / kind.parallel), age);
  p.series = kind.series;
  p.parallel = kind.parallel;
  p.electronics_ohm = kind.electronics_ohm;
  p.weak_fraction = kind.weak_fraction;
  p.heat_capacity_j_k = kind.heat_capacity_j_k;
  p.cooling_w_k = kind.cooling_w_k;
  p.idle_a = kind.idle_a;
  p.protection = kind.protection;
  p.gauge.present = kind.has_gauge;
  p.rated_wh = kind.rated_wh;
  p.mass_kg = kind.mass_kg;
  return p;
}

}  // namespace tillwrap::catalogue
