#include "app/findings_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <string_view>

#include "app/report_json.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

using findings::Severity;

constexpr std::size_t kWidth = 80;
constexpr std::array<Severity, 4> kSeverities = {Severity::stops, Severity::harms, Severity::costs, Severity::note};

long count(const std::vector<findings::Finding>& found, Severity severity) {
  return std::count_if(found.begin(), found.end(), [&](const findings::Finding& f) { return f.severity == severity; });
}

std::string summary(const std::vector<findings::Finding>& found) {
  if (found.empty()) return "Nothing to say about the wiring.";
  const long stops = count(found, Severity::stops);
  const auto part = [&](Severity severity, const char* one, const char* many) -> std::string {
    const long n = count(found, severity);
    return n == 0 ? "" : fmt::format(", {} {}", n, n == 1 ? one : many);
  };
  std::string text =
      stops == 0 ? "Nothing here stops the day" : fmt::format("{} stop{} the day", stops, stops == 1 ? "s" : "");
  text += part(Severity::harms, "can hurt gear or people", "can hurt gear or people");
  text += part(Severity::costs, "costs takes, time or charge", "cost takes, time or charge");
  text += part(Severity::note, "is worth knowing", "are worth knowing");
  return text + ".";
}

std::string upper(std::string text) {
  for (char& c : text) c = c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
  return text;
}

std::string block(const std::string& first, const std::string& text, std::size_t indent) {
  return wrapped(first + text, kWidth, std::string(indent, ' ')) + "\n";
}

}  // namespace

// A rule looks at the same thing with numbers; what is left has none.
std::vector<Warning> other_warnings(const DayFile& file) {
  constexpr std::array<std::string_view, 6> kCovered = {"does not lock",
                                                        "makes poor contact",
                                                        "splitter is taken for granted",
                                                        "is more than its wire carries",
                                                        "fresh off the charger gives",
                                                        "more phantom current"};
  std::vector<Warning> others;
  for (const Warning& warning : file.warnings) {
    if (std::none_of(kCovered.begin(), kCovered.end(),
                     [&](std::string_view part) { return warning.text.find(part) != std::string::npos; }))
      others.push_back(warning);
  }
  return others;
}

std::string findings_text(const DayFile& file, const std::vector<findings::Finding>& found) {
  const Wording wording(file.inventory.settings);
  std::string text = file.scenario.title.empty() ? std::string() : file.scenario.title + ": wiring\n";
  text += wrapped(summary(found), kWidth, "") + "\n";
  for (const Severity severity : kSeverities) {
    if (count(found, severity) == 0) continue;
    text += "\n" + upper(severity_words(severity)) + "\n";
    for (std::size_t n = 0; n < found.size(); ++n) {
      if (found[n].severity != severity) continue;
      const FindingWords words = finding_words(found[n], wording);
      text += block(fmt::format("{:>2}  ", n + 1), words.title, 4);
      for (std::size_t i = 0; i < words.where.size(); ++i) {
        const std::size_t line = found[n].items[i].place.line;
        text += block(fmt::format("    line {}: ", line), words.where[i], 6);
      }
      text += block("    Do: ", words.advice, 6);
      if (!words.source.empty()) text += block("    From: ", words.source, 6);
    }
  }
  const std::vector<Warning> others = other_warnings(file);
  if (!others.empty()) text += "\nALSO IN THE DAY FILE\n";
  for (const Warning& warning : others)
    text += block(fmt::format("    line {}: ", warning.place.line), warning.text, 6);
  text += "\nCAUTIONS\n" +
          wrapped(
              "Estimates, not a safety clearance. A fuse saves the wire, not the device. Never open, short or mix "
              "lithium packs; observe polarity. Mains, generator and vehicle power belong to licensed people and "
              "local codes.",
              kWidth, "") +
          "\n";
  return text;
}

Json findings_object(const DayFile& file, const std::vector<findings::Finding>& found) {
  Json out;
  out["format"] = "tillwrap-findings-1";
  out["title"] = file.scenario.title;
  out["summary"] = summary(found);
  out["stops"] = count(found, Severity::stops) > 0;
  out["findings"] = Json::array();
  for (std::size_t n = 0; n < found.size(); ++n) {
    const FindingWords words = finding_words(found[n], Wording());
    Json one = {{"number", n + 1},
                {"rule", findings::rule_key(found[n].rule)},
                {"severity", findings::severity_key(found[n].severity)},
                {"title", words.title},
                {"advice", words.advice},
                {"source", words.source},
                {"places", Json::array()}};
    for (std::size_t i = 0; i < found[n].items.size(); ++i) {
      const findings::Item& item = found[n].items[i];
      Json figures = Json::object();
      for (const findings::Figure& figure : item.figures) figures[std::string(figure.name)] = figure.value;
      one["places"].push_back({{"line", item.place.line},
                               {"column", item.place.column},
                               {"what", item.what},
                               {"names", item.names},
                               {"text", words.where[i]},
                               {"figures", figures}});
    }
    out["findings"].push_back(one);
  }
  out["warnings"] = Json::array();
  for (const Warning& warning : other_warnings(file))
    out["warnings"].push_back({{"line", warning.place.line}, {"column", warning.place.column}, {"text", warning.text}});
  return out;
}

std::string findings_json(const DayFile& file, const std::vector<findings::Finding>& found) {
  return findings_object(file, found).dump(2) + "\n";
}

}  // namespace tillwrap::app
