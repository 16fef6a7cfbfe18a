#include "app/fit_columns.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <utility>

#include "decode/node.hpp"
#include "quantity/quantity.hpp"

namespace tillwrap::app {

namespace {

constexpr double kMostEmpty = 0.05;  // of the rows

// A header as other programs write it: words of the name; units with factor and offset to ours.
struct Unit {
  const char* name;
  double factor = 1.0;
  double offset = 0.0;
};
struct Spelling {
  const char* column;
  std::vector<const char*> names;
  std::vector<Unit> units;
};
const std::vector<Spelling>& spellings() {
  static const std::vector<Unit> temperature{{"c"},
                                             {"°c"},
                                             {"degc"},
                                             {"deg c"},
                                             {"celsius"},
                                             {"k", 1.0, -kZeroCelsiusK},
                                             {"f", 1.0 / 1.8, -32.0 / 1.8},
                                             {"°f", 1.0 / 1.8, -32.0 / 1.8},
                                             {"degf", 1.0 / 1.8, -32.0 / 1.8}};
  static const std::vector<Spelling> all{
      {"time_s",
       {"time", "t", "elapsed", "elapsed time", "test time"},
       {{"s"}, {"sec"}, {"seconds"}, {"ms", 1e-3}, {"min", 60.0}, {"minutes", 60.0}, {"h", 3600.0}, {"hours", 3600.0}}},
      {"voltage_v",
       {"voltage", "volts", "v", "u", "cell voltage", "battery voltage"},
       {{"v"}, {"mv", 1e-3}, {"volt"}, {"volts"}}},
      {"current_a",
       {"current", "amps", "i", "discharge current", "load current"},
       {{"a"}, {"ma", 1e-3}, {"amp"}, {"amps"}}},
      {"surface_c", {"surface", "temperature", "temp", "surface temperature", "cell temperature"}, temperature},
      {"ambient_c", {"ambient", "air", "ambient temperature", "air temperature", "chamber"}, temperature},
      {"discharged_ah",
       {"discharged", "capacity", "charge", "discharge capacity", "discharged capacity"},
       {{"ah"}, {"mah", 1e-3}}},
      {kLeftColumn,
       {"left", "gauge", "meter", "charge left", "soc", "state of charge"},
       {{"pct"}, {"%"}, {"percent"}, {"per cent"}}},
  };
  return all;
}

// "Voltage [mV]" -> "voltage", "mv"; "current_ma" -> "current", "ma"; "Test_Time(s)" -> "test time", "s".
std::pair<std::string, std::string> name_and_unit(std::string text) {
  for (char& c : text) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  std::size_t cut = text.find_first_of("([/");
  if (cut == std::string::npos) cut = text.find_last_of("_ ");
  if (cut == std::string::npos) return {text, ""};
  std::string unit = text.substr(cut + 1);
  std::string name = text.substr(0, cut);
  std::erase_if(unit, [](char c) { return c == ')' || c == ']'; });
  for (char& c : name) c = c == '_' ? ' ' : c;
  while (!name.empty() && name.back() == ' ') name.pop_back();
  while (!unit.empty() && unit.back() == ' ') unit.pop_back();
  while (!unit.empty() && unit.front() == ' ') unit.erase(0, 1);
  return {name, unit};
}

// Columns named or measured otherwise are renamed and converted, and that is said; two that could be the same are
// refused.
void respell(CsvLog& log, const std::string& source, const std::vector<std::string>& required,
             std::vector<std::string>& notes) {
  for (const Spelling& spelling : spellings()) {
    if (log.column(spelling.column) != nullptr) continue;
    // What a gauge showed is of no use to a log that has volts.
    const bool wanted = std::find(required.begin(), required.end(), spelling.column) != required.end();
    if (std::string_view(spelling.column) == kLeftColumn && !wanted) continue;
    std::optional<std::size_t> found;
    Unit in{};
    for (std::size_t k = 0; k < log.names.size(); ++k) {
      const auto [name, unit] = name_and_unit(log.names[k]);
      if (std::find(spelling.names.begin(), spelling.names.end(), name) == spelling.names.end()) continue;
      const auto known = std::find_if(spelling.units.begin(), spelling.units.end(),
                                      [&, &written = unit](const Unit& u) { return written == u.name; });
      if (known == spelling.units.end()) continue;
      if (found) {
        throw decode::InputError(
            source, log.header[k],
            "\"" + shown(log.names[*found]) + "\" and \"" + shown(log.names[k]) + "\" could both be " + spelling.column,
            std::string("name the right one ") + spelling.column + " and keep its unit");
      }
      found = k;
      in = *known;
    }
    if (!found) continue;
    for (double& value : log.columns[*found]) value = value * in.factor + in.offset;
    std::string note = source + ": column \"" + shown(log.names[*found]) + "\" is read as " + spelling.column;
    if (in.factor != 1.0) note += fmt::format(", times {:g}", in.factor);
    if (in.offset != 0.0) note += fmt::format(", plus {:g}", in.offset);
    notes.push_back(std::move(note));
    log.names[*found] = spelling.column;
  }
}

void require_columns(const CsvLog& csv, const std::string& source, const std::vector<std::string>& required) {
  for (const std::string& name : required) {
    if (csv.column(name) != nullptr) continue;
    std::string have;
    for (const std::string& other : csv.names) have += (have.empty() ? "" : ", ") + shown(other);
    static const std::map<std::string, std::string> with_unit{{"time_s", "time [s]"},
                                                              {"voltage_v", "voltage [V]"},
                                                              {"current_a", "current [A]"},
                                                              {"discharged_ah", "discharged [Ah]"},
                                                              {kLeftColumn, "left [%]"}};
    const auto written = with_unit.find(name);
    throw decode::InputError(
        source, csv.header.front(), "there is no column " + name,
        "name it so" + (written == with_unit.end() ? "" : ", or with its unit as in \"" + written->second + "\"") +
            "; columns here: " + have);
  }
}

// Rows in which something needed is empty are left out where they are few, and that is said.
void leave_out_empty(CsvLog& csv, const std::string& source, const std::vector<std::string>& required,
                     std::vector<std::string>& notes) {
  std::vector<const std::vector<double>*> needed;
  for (const std::string& name : required) needed.push_back(csv.column(name));
  const std::size_t n = csv.line.size();
  std::vector<char> keep(n, 1);
  std::size_t out = 0;
  decode::Place first{};
  std::string under;
  for (std::size_t k = 0; k < n; ++k) {
    for (std::size_t c = 0; c < needed.size() && keep[k] != 0; ++c) {
      if (!std::isnan((*needed[c])[k])) continue;
      keep[k] = 0;
      if (out++ > 0) continue;
      first = csv.place(k, required[c]);
      under = required[c];
    }
  }
  if (out == 0) return;
  if (static_cast<double>(out) > kMostEmpty * static_cast<double>(n)) {
    throw decode::InputError(
        source, first, fmt::format("nothing is written under {}, and {} of {} rows lack something", under, out, n),
        fmt::format("at most {:.0f} % of the rows may; fill them or leave the rows out", 100.0 * kMostEmpty));
  }
  const auto thin = [&](auto& values) {
    std::size_t to = 0;
    for (std::size_t k = 0; k < n; ++k) {
      if (keep[k] != 0) values[to++] = values[k];
    }
    values.resize(to);
  };
  for (auto& column : csv.columns) thin(column);
  for (auto& column : csv.at) thin(column);
  thin(csv.line);
  notes.push_back(fmt::format("{}: {} left out, as {} empty cells, the first in line {}", source,
                              out == 1 ? "one row is" : fmt::format("{} rows are", out),
                              out == 1 ? "it has" : "they have", first.line));
}

}  // namespace

bool has_column(const CsvLog& csv, std::string_view column) {
  if (csv.column(column) != nullptr) return true;
  return std::any_of(spellings().begin(), spellings().end(), [&](const Spelling& spelling) {
    return spelling.column == column &&
           std::any_of(csv.names.begin(), csv.names.end(), [&](const std::string& written) {
             const auto [name, unit] = name_and_unit(written);
             const auto is = [](const std::string& text) { return [&text](const auto& one) { return text == one; }; };
             return std::any_of(spelling.names.begin(), spelling.names.end(), is(name)) &&
                    std::any_of(spelling.units.begin(), spelling.units.end(),
                                [&, &in = unit](const Unit& known) { return in == known.name; });
           });
  });
}

void settle_columns(CsvLog& csv, const std::string& source, const std::vector<std::string>& required,
                    std::vector<std::string>& notes) {
  respell(csv, source, required, notes);
  require_columns(csv, source, required);
  leave_out_empty(csv, source, required, notes);
  require_complete(csv, source, required);
}

}  // namespace tillwrap::app
