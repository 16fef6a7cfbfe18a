#include "app/journal_report.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "app/words.hpp"

namespace tillwrap::app {

namespace {

using journal::Event;
using journal::Line;

constexpr std::size_t kWidth = 80;
constexpr std::size_t kWhat = 45;
constexpr std::size_t kBy = 8;

std::string left_words(const Line& line) {
  const auto charge = line.number("charge");
  return charge ? ", " + percent_words(*charge) + " left" : "";
}

std::string with(const std::string& before, const std::string& text) { return text.empty() ? "" : before + text; }

// Without control characters, which would tear a line apart or colour a terminal.
std::string clean(std::string text) {
  for (char& c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x20 || byte == 0x7F) c = ' ';
  }
  return text;
}

std::string zone_words(int offset_min) {
  const int size = offset_min < 0 ? -offset_min : offset_min;
  return fmt::format("UTC{}{:02}:{:02}", offset_min < 0 ? "-" : "+", size / 60, size % 60);
}

std::string told_words(const Line& line) {
  const std::string& pack = line.words("pack");
  switch (line.form->event) {
    case Event::acquired:
      return pack + " acquired: " + line.words("kind") + with(", bought ", line.words("bought"));
    case Event::charged:
      return pack + " charged to " + percent_words(line.number("charge").value_or(0.0)) +
             with(" on ", line.words("charger"));
    case Event::rested:
      return pack + " rests: " + line.words("place") + with(", ", line.words("temperature"));
    case Event::put_in:
      return pack + " into " + line.words("holder");
    case Event::taken_out:
      return pack + " out" + with(" of ", line.words("holder")) + left_words(line);
    case Event::reading: {
      const journal::Point* point = journal::point_of(line.words("point"));
      const double value = line.number("value").value_or(0.0);
      return line.words("of") + " " + line.words("point") + " " +
             (point->unit.empty() ? percent_words(value) : fmt::format("{:.4g} {}", value, point->unit));
    }
    case Event::period:
      return "period: " + line.words("name");
    case Event::late: {
      const double minutes = line.number("minutes").value_or(0.0);
      return fmt::format("{:g} min {}", minutes < 0.0 ? -minutes : minutes, minutes < 0.0 ? "early" : "late");
    }
    case Event::tested:
      return fmt::format("{} tested: {} of its capacity, {:.3g} × resistance", pack,
                         percent_words(line.number("capacity").value_or(0.0)), line.number("resistance").value_or(0.0));
    case Event::used:
      return fmt::format("{} gave {:.3g} Ah{}", pack, line.number("ah").value_or(0.0), left_words(line));
    case Event::retired:
      return pack + " retired" + with(": ", line.words("reason"));
    case Event::taken_back:
      return "takes back " + short_id(line.words("of"));
  }
  return line.what;
}

}  // namespace

std::string short_id(const std::string& id) { return id.size() > 6 ? id.substr(id.size() - 6) : id; }

std::string event_words(const Line& line) {
  if (line.form == nullptr)
    return clean(line.what.empty() ? "?" : line.what) +
           (line.version > journal::kVersion ? fmt::format(" (version {})", line.version) : " (unknown here)");
  std::string text = told_words(line);
  if (!line.words("note").empty()) text += "; " + line.words("note");
  return clean(text);
}

std::string JournalList::row(const Line& line) {
  std::string out;
  if (!begun_ || offset_min_ != line.at.offset_min) out += "times in " + zone_words(line.at.offset_min) + "\n";
  begun_ = true;
  offset_min_ = line.at.offset_min;
  std::string when = journal::moment_text(line.at).substr(0, 16);
  when[10] = ' ';
  std::string what = event_words(line);
  if (survey_.void_ids.contains(line.id)) what = "(taken back) " + what;
  return out + when + "  " + padded(what, kWhat) + " " + padded(clean(line.by), kBy) + " " + short_id(line.id) + "\n";
}

std::string line_json(const Line& line, const journal::Survey& survey) {
  nlohmann::ordered_json out;
  out["line"] = nlohmann::ordered_json::parse(line.text);
  out["words"] = event_words(line);
  out["understood"] = line.form != nullptr;
  out["taken_back"] = survey.void_ids.contains(line.id);
  return out.dump();
}

std::string remarks_text(const std::vector<journal::Remark>& remarks, std::size_t most) {
  std::string out;
  for (std::size_t k = 0; k < remarks.size() && k < most; ++k)
    out += wrapped("  " + short_id(remarks[k].id) + "  " + clean(remarks[k].text), kWidth, "          ") + "\n";
  if (remarks.size() > most) out += fmt::format("  and {} more\n", remarks.size() - most);
  return out;
}

}  // namespace tillwrap::app
