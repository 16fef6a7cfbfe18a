#include "door/journal_questions.hpp"

#include <stdexcept>

#include "app/health_log.hpp"
#include "app/journal_add.hpp"
#include "app/journal_report.hpp"
#include "app/kit_now.hpp"
#include "app/measured.hpp"
#include "decode/node.hpp"
#include "journal/clock_check.hpp"

namespace tillwrap::door {

namespace {

using app::Json;
using decode::TableReader;

// What the page says the time is; its offset is the zone of all that is written without one.
journal::Moment now_of(TableReader& question) {
  try {
    return journal::parse_moment(question.text("now"));
  } catch (const journal::MomentError& error) {
    question.fail("now", error.what(), error.hint);
  }
}

struct Lines {
  std::vector<journal::Line> good;
  Json bad = Json::array();
};

// "lines": one text or a list of texts, each with a line an event. A bad line hides no other.
Lines lines_of(TableReader& question) {
  Lines out;
  const decode::Node* given = question.take("lines");
  if (given == nullptr) return out;
  std::vector<const decode::Node*> texts;
  if (given->kind == decode::Kind::array) {
    for (const decode::Node& one : given->children) texts.push_back(&one);
  } else {
    texts.push_back(given);
  }
  for (std::size_t k = 0; k < texts.size(); ++k) {
    if (texts[k]->kind != decode::Kind::text)
      question.fail("lines", "lines are text", "one event a line, or a list of such texts");
    std::string_view text = texts[k]->text;
    const std::string name = texts.size() == 1 ? "the lines" : "text " + std::to_string(k + 1) + " of the lines";
    for (std::size_t number = 1; !text.empty(); ++number) {
      const std::size_t end = text.find('\n');
      const std::string_view one = text.substr(0, end);
      text = end == std::string_view::npos ? std::string_view() : text.substr(end + 1);
      if (one.find_first_not_of(" \t\r") == std::string_view::npos) continue;
      try {
        out.good.push_back(journal::parse_line(one, name, number));
      } catch (const decode::InputError& error) {
        out.bad.push_back({{"source", error.source},
                           {"line", error.place.line},
                           {"column", error.place.column},
                           {"message", error.message},
                           {"hint", error.hint}});
      }
    }
  }
  return out;
}

journal::State state_until(const std::vector<journal::Line>& lines, std::int64_t until_us) {
  std::vector<journal::Line> so_far;
  for (const journal::Line& line : lines) {
    if (line.at.us <= until_us) so_far.push_back(line);
  }
  return journal::fold(so_far);
}

Json journal_answer(TableReader& question) {
  const journal::Moment now = now_of(question);
  Lines lines = lines_of(question);
  journal::ClockCheck clocks(now.us);
  for (const journal::Line& line : lines.good) clocks.add(line);
  const std::vector<journal::Line> all = journal::united(std::move(lines.good), {});
  const journal::Survey survey = journal::survey(all);
  Json out;
  out["kit"] = app::kit_object(app::kit_now(state_until(all, now.us), catalogue::builtin(), now.us),
                               app::fixed_zone(now.offset_min));
  out["lines"] = Json::array();
  std::string text;
  for (const journal::Line& line : all) {
    Json one = {{"text", line.text},
                {"id", line.id},
                {"at", journal::moment_text(line.at)},
                {"words", app::event_words(line)},
                {"understood", line.form != nullptr},
                {"taken_back", survey.void_ids.contains(line.id)}};
    out["lines"].push_back(one);
  }
  out["bad"] = lines.bad;
  out["clocks"] = Json::array();
  for (const journal::Remark& remark : clocks.remarks())
    out["clocks"].push_back({{"id", remark.id}, {"text", remark.text}});
  return out;
}

std::uint8_t hex_of(TableReader& question, char c) {
  if (c >= '0' && c <= '9') return static_cast<std::uint8_t>(c - '0');
  if (c >= 'a' && c <= 'f') return static_cast<std::uint8_t>(c - 'a' + 10);
  question.fail("random", "ten random bytes are written as 20 hexadecimal digits", "0 to 9 and a to f");
}

// The page has the clock and the randomness.
Json journal_line(TableReader& question) {
  const journal::Moment now = now_of(question);
  const std::string random = question.text("random");
  journal::RandomBytes bytes{};
  if (random.size() != 2 * bytes.size()) hex_of(question, ' ');
  for (std::size_t k = 0; k < bytes.size(); ++k)
    bytes[k] = static_cast<std::uint8_t>(16 * hex_of(question, random[2 * k]) + hex_of(question, random[2 * k + 1]));
  app::SaidEvent said{.what = question.text("what"), .by = question.text("by")};
  said.at = question.text_or("at", "now");
  if (auto keys = question.maybe_table("keys")) {
    for (const decode::Node& one : keys->node().children) {
      if (one.kind != decode::Kind::text)
        question.fail("keys", "\"" + one.key.substr(0, 40) + "\" is no text", "write values as typed: \"80 %\"");
      said.words.push_back("--" + one.key);
      said.words.push_back(one.text);
    }
  }
  const Lines lines = lines_of(question);
  const auto ids_like = [&](const std::string& part) {
    std::vector<std::string> ids;
    for (const journal::Line& line : lines.good) {
      if (line.id.starts_with(part) || line.id.ends_with(part)) ids.push_back(line.id);
    }
    return ids;
  };
  const std::string after = question.text_or("after", "");
  if (!after.empty() && !journal::is_uuid7(after))
    question.fail("after", "this is no id of a line", "give the id of the line before");
  const app::NewLine made =
      app::new_line(said, now.us, app::fixed_zone(now.offset_min), bytes, catalogue::builtin(), ids_like, after);
  return {
      {"line", made.line.text}, {"id", made.line.id}, {"words", app::event_words(made.line)}, {"notes", made.notes}};
}

app::DayHealth day_health(const std::string& text, const std::string& name, const std::vector<journal::Line>& lines) {
  app::DayFile file = app::read_day(decode::read_toml_or_json(text, name), catalogue::builtin());
  app::apply_measured(file);
  const app::DaySpan span = app::span_of(file);
  app::DayOfJournal day;
  const std::vector<journal::Line> all = journal::united(lines, {});
  const journal::Survey survey = journal::survey(all);
  for (const journal::Line& line : all) {
    const bool of_it = line.at.us > span.from_us && line.at.us < span.until_us;
    if (of_it && !survey.void_ids.contains(line.id)) day.lines.push_back(line);
  }
  day.state_before = [&](std::int64_t until_us) { return state_until(lines, until_us); };
  return app::health_of_day(file, day, catalogue::builtin());
}

Json health(TableReader& question) {
  const journal::Moment now = now_of(question);
  app::HealthWords words;
  const auto log_text = question.maybe_text("log");
  const std::string name = question.text_or("name", "the log");
  words.kind = question.maybe_text("kind");
  words.chemistry = question.maybe_text("chemistry");
  words.capacity_ah = question.maybe_text("capacity_ah");
  words.ambient = question.maybe_text("ambient");
  const auto label = question.maybe_text("pack");
  const auto day_text = question.maybe_text("day");
  if (!log_text && !label) question.fail("log", "neither a log nor a pack is given", "give log, or pack and lines");
  if (day_text && (log_text || !label))
    question.fail("day", "a day goes with a pack of the journal, not with a log", "give pack, lines and day");
  const Lines lines = lines_of(question);
  const journal::State state = state_until(lines.good, now.us);
  const journal::PackState* pack = label ? state.pack(*label) : nullptr;
  if (label && pack == nullptr)
    question.fail("pack", "these lines know no pack \"" + label->substr(0, 60) + "\"", "give the journal in lines");
  std::optional<app::HealthAnswer> log;
  if (log_text) {
    words.log = {name, *log_text};
    if (pack != nullptr && !words.kind && !words.chemistry) words.kind = pack->kind;
    log = app::health_of_log(words, catalogue::builtin());
  }
  std::optional<app::DayHealth> day;
  if (day_text) day = day_health(*day_text, question.text_or("name", "the day"), lines.good);
  journal::PackState with_log;
  const app::HealthReport report =
      app::health_report(log, day ? &*day : nullptr, pack, state, now.us, now.us, with_log, catalogue::builtin());
  Json out = app::health_object(report);
  out["text"] = app::health_text(report);
  out["about"] = day ? app::about_pack(*day, *label) : std::string();
  out["to_keep"] = Json::array();
  for (const auto& [of, test] :
       day ? app::tests_of_day(*day, state) : std::vector<std::pair<std::string, journal::Test>>()) {
    Json keys;
    for (const auto& [key, text] : app::tested_keys(of, test)) keys[key] = text;
    out["to_keep"].push_back({{"at", journal::moment_text({day->until_us, day->offset_min})}, {"keys", keys}});
  }
  return out;
}

}  // namespace

std::optional<app::KitAnswer> asked_kit(TableReader& question) {
  if (!question.has("lines")) return std::nullopt;
  const journal::Moment now = now_of(question);
  const Lines lines = lines_of(question);
  if (!lines.bad.empty()) {
    const Json& first = lines.bad.front();
    throw decode::InputError(first["source"], {first["line"], first["column"]}, first["message"], first["hint"]);
  }
  return app::kit_now(state_until(lines.good, now.us), catalogue::builtin(), now.us);
}

Json journal_question(const std::string& asked, TableReader& question) {
  if (asked == "journal") return journal_answer(question);
  if (asked == "journal_line") return journal_line(question);
  if (asked == "health") return health(question);
  throw std::invalid_argument("no question without a day: " + asked);
}

}  // namespace tillwrap::door
