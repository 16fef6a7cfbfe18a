// What `tillwrap fit` prints and writes.
#include <fmt/format.h>

#include <map>
#include <nlohmann/json.hpp>

#include "app/fit_cell.hpp"
#include "app/words.hpp"
#include "catalogue/reading.hpp"
#include "catalogue/wording.hpp"

namespace tillwrap::app {

namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kWidth = 80;

std::vector<std::string> untold(const FitAnswer& answer) {
  std::vector<std::string> out;
  for (const fit::Estimated& number : answer.fitted.numbers) {
    if (!number.told && number.of_the_cell) out.push_back(number.name);
  }
  return out;
}

// The file's own name.
std::string short_name(const std::string& path) { return path.substr(path.find_last_of('/') + 1); }

// A number of six digits: what a fit can carry, short to read.
Json short_number(double value) { return Json::parse(fmt::format("{:.6g}", value)); }

Json curve_json(const Curve& curve) {
  Json out = Json::array();
  for (std::size_t k = 0; k < curve.knots_x().size(); ++k)
    out.push_back({short_number(curve.knots_x()[k]), short_number(curve.knots_y()[k])});
  return out;
}

Json logs_json(const FitAnswer& answer) {
  Json logs = Json::array();
  for (const fit::LogFit& log : answer.fitted.logs) {
    Json one;
    one["name"] = log.name;
    one["rows"] = log.rows;
    one["rms_v"] = short_number(log.rms_v);
    one["rms_before_v"] = short_number(log.rms_before_v);
    one["duration_off"] = log.duration_off ? short_number(*log.duration_off) : Json(nullptr);
    logs.push_back(one);
  }
  return logs;
}

Json numbers_json(const FitAnswer& answer) {
  Json numbers = Json::array();
  for (const fit::Estimated& number : answer.fitted.numbers) {
    Json one;
    one["name"] = number.name;
    one["value"] = short_number(number.value);
    one["plus_minus"] = short_number(number.plus_minus);
    one["share_of_prior"] = short_number(number.share_of_prior);
    one["told"] = number.told;
    numbers.push_back(one);
  }
  return numbers;
}

// To two digits, which is what a spread is known to.
double rounded(double value) { return std::stod(fmt::format("{:.1e}", value)); }

// Where a number that was not fitted stands.
std::string as_in(const FitAnswer& answer, const std::string& source) {
  const std::string before = answer.started_from + ": ";
  return source.starts_with(before) ? source : before + source;
}

// The parameter file's key that a fitted number moves.
std::string key_of(const std::string& number) {
  if (number.starts_with("capacity")) return "capacity_ah";
  if (number.starts_with("rested volts")) return "ocv";
  return number;
}

// The source of each number that has one of its own: fitted with its spread, kept as the logs cannot tell it, or its
// own in the set started from.
Json sources_json(const FitAnswer& answer, const Json& cell) {
  const auto provenance = [&](const std::string& key) -> const catalogue::Provenance& {
    for (const auto& [name, own] : answer.kind.own_provenance) {
      if (name == key) return own;
    }
    return answer.kind.provenance;
  };
  std::map<std::string, Json> out;
  const auto put = [&](const std::string& key, std::string_view mark, std::string source) {
    if (cell.contains(key)) out[key] = Json{{"source", std::move(source)}, {"mark", mark}};
  };
  const auto measured = [&](const std::string& key, const std::string& how) {
    put(key, catalogue::mark_word(catalogue::Mark::measured), how);
  };
  const auto kept = [&](const std::string& key) {
    const catalogue::Provenance& p = provenance(key);
    put(key, catalogue::mark_word(p.mark), "as in " + answer.started_from + ": the logs cannot tell it");
  };
  for (const auto& [key, own] : answer.kind.own_provenance) put(key, catalogue::mark_word(own.mark), own.source);
  if (answer.slow) measured("ocv", "the slow discharge's volts and the model's own losses at its current");
  std::string curve;
  for (const fit::Estimated& number : answer.fitted.numbers) {
    if (!number.of_the_cell) continue;
    const std::string key = key_of(number.name);
    const std::string spread = "give or take " + catalogue::number_of(key, rounded(number.plus_minus));
    if (key == "ocv") {
      if (number.told)
        curve += (curve.empty() ? "" : "; ") +
                 fmt::format("{} {:+.3f} V, give or take {:.3f} V", number.name, number.value, number.plus_minus);
    } else if (number.name == "capacity_fraction") {
      number.told ? measured("capacity_ah", fmt::format("{:.4g} of the capacity as new, give or take {:.2g}",
                                                        number.value, number.plus_minus))
                  : kept("capacity_ah");
    } else if (number.name == "resistance_factor") {
      for (const char* ohmic : {"electrolyte_ohm", "exchange_a", "rc_ohm"}) {
        number.told ? measured(ohmic, fmt::format("resistance {:.4g} times as new, give or take {:.2g}", number.value,
                                                  number.plus_minus))
                    : kept(ohmic);
      }
    } else if (number.told) {
      measured(key, key == number.name ? "fitted to the logs, " + spread
                                       : fmt::format("fitted to the logs, give or take {:.1f} %",
                                                     100.0 * number.plus_minus / number.value));
    } else if (key == number.name || !answer.slow) {
      kept(key);
    }
  }
  if (!curve.empty()) measured("ocv", answer.started_from + "'s, moved at: " + curve);
  Json all = Json::object();
  for (const auto& [key, value] : out) all[key] = value;
  return all;
}

Json cell_json(const FitAnswer& answer) {
  const cell::CellParams& c = answer.fitted.cell;
  const decode::Node* written = answer.kind.node;
  Json out;
  out["id"] = answer.kind.id;
  // The set's title says which cell the set was measured on.
  out["title"] = answer.health_only ? answer.kind.title
                                    : fmt::format("Cell of {:.3g} Ah by its logs, from {}", c.capacity_as / 3600.0,
                                                  answer.started_from);
  const decode::Node* chemistry = written != nullptr ? written->find("chemistry") : nullptr;
  out["chemistry"] = chemistry != nullptr ? chemistry->text : "";
  out["rated_ah"] = short_number(c.rated_ah);
  out["capacity_ah"] = short_number(c.capacity_as / 3600.0);
  out["cutoff_v"] = short_number(c.cutoff_v);
  out["ocv"] = curve_json(c.ocv);
  Json gain = Json::array();
  Json rate = Json::array();
  for (std::size_t n = 0; n < 2; ++n) {
    gain.push_back(short_number(c.lag_gain[n]));
    rate.push_back(short_number(c.lag_rate[n]));
  }
  out["lag_gain"] = gain;
  out["lag_rate"] = rate;
  const std::pair<const char*, double> plain[] = {
      {"surface_gain", c.surface_gain},
      {"diffusion_s", c.diffusion_s},
      {"diffusion_activation_k", c.diffusion_activation_k},
      {"cold_tail", c.cold_tail},
      {"series_ohm", c.series_ohm},
      {"electrolyte_ohm", c.electrolyte_ohm},
      {"electrolyte_activation_k", c.electrolyte_activation_k},
      {"exchange_a", c.exchange_a},
      {"exchange_activation_k", c.exchange_activation_k},
      {"exchange_alpha", c.exchange_alpha},
      {"exchange_electrodes", c.exchange_electrodes},
      {"exchange_s", c.exchange_s},
      {"rc_ohm", c.rc_ohm},
      {"rc_s", c.rc_s},
      {"heat_capacity_j_k", c.heat_capacity_j_k},
      {"cooling_w_k", c.cooling_w_k},
      {"charge_efficiency", c.charge_efficiency},
      {"self_discharge_per_month", c.self_discharge_per_month},
  };
  for (const auto& [name, value] : plain) out[name] = short_number(value);
  if (c.cold_tail_width > 0.0) out["cold_tail_width"] = short_number(c.cold_tail_width);
  for (const auto& [name, curve] :
       {std::pair{"diffusion_shape", &c.diffusion_shape}, std::pair{"resistance_shape", &c.resistance_shape},
        std::pair{"exchange_shape", &c.exchange_shape}}) {
    if (!curve->empty()) out[name] = curve_json(*curve);
  }
  std::string logs;
  for (const fit::LogFit& log : answer.fitted.logs) logs += (logs.empty() ? "" : ", ") + short_name(log.name);
  out["note"] = (answer.health_only ? "what is left of " : "fitted from ") + answer.started_from +
                (answer.health_only ? ", by " : " to ") + logs;
  const catalogue::Provenance& common = answer.kind.provenance;
  out["source"] = as_in(answer, common.source);
  out["mark"] = catalogue::mark_word(common.mark);
  out["sources"] = sources_json(answer, out);
  return out;
}

// How the numbers came about.
Json fit_part(const FitAnswer& answer) {
  Json fit;
  fit["started_from"] = answer.started_from;
  if (answer.health_only) {
    fit["capacity_fraction"] = short_number(answer.health.capacity_fraction);
    fit["resistance_factor"] = short_number(answer.health.resistance_factor);
  }
  fit["logs"] = logs_json(answer);
  fit["numbers"] = numbers_json(answer);
  fit["cannot_tell"] = untold(answer);
  fit["notes"] = answer.notes;
  return fit;
}

}  // namespace

std::string params_json(const FitAnswer& answer) {
  Json out;
  out["format"] = catalogue::kParamsFormat;
  out["cell"] = Json::array({cell_json(answer)});
  out["fit"] = fit_part(answer);
  // A key without a value is left out: the reader of parameter files knows no null.
  for (Json& log : out["fit"]["logs"]) {
    if (log["duration_off"].is_null()) log.erase("duration_off");
  }
  return out.dump(1) + "\n";
}

std::string fit_json(const FitAnswer& answer) {
  Json out;
  out["format"] = "tillwrap-fit-1";
  out["health_only"] = answer.health_only;
  const Json part = fit_part(answer);
  for (const auto& [key, value] : part.items()) out[key] = value;
  out["cell"] = cell_json(answer);
  return out.dump(2) + "\n";
}

std::string fit_text(const FitAnswer& answer, const std::string& out) {
  std::string text = answer.health_only ? "health of " + answer.started_from + "\n\n"
                                        : "fitted, starting from " + answer.started_from + "\n\n";
  text += "  off above 10 % charge, RMS a cell              now    before   length off\n";
  for (const fit::LogFit& log : answer.fitted.logs) {
    text += fmt::format("  {} {:6.1f} mV {:6.1f} mV{}\n", padded(short_name(log.name), 40), 1e3 * log.rms_v,
                        1e3 * log.rms_before_v,
                        log.duration_off ? fmt::format("   {:+6.1f} %", 100.0 * *log.duration_off) : "");
  }
  text += "\n  what the logs tell                                 value give or take\n";
  for (const fit::Estimated& number : answer.fitted.numbers) {
    if (number.told)
      text += fmt::format("  {} {:12.4g} {:12.2g}\n", padded(number.name, 42), number.value, number.plus_minus);
  }
  const std::vector<std::string> kept = untold(answer);
  if (!kept.empty()) {
    std::string names;
    for (const std::string& name : kept) names += (names.empty() ? "" : ", ") + name;
    text +=
        "\n" +
        wrapped("  The logs cannot tell, " + std::string(answer.health_only ? "taken as 1: " : "prior kept: ") + names,
                kWidth, "  ") +
        "\n";
  }
  if (!answer.notes.empty()) text += "\n";
  for (const std::string& note : answer.notes) text += wrapped("  " + note, kWidth, "    ") + "\n";
  if (!out.empty()) text += "\nwrote " + out + "\n";
  return text;
}

}  // namespace tillwrap::app
