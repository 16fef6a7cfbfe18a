#include "door/door.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <functional>
#include <map>
#include <optional>

#include "app/assess.hpp"
#include "app/changes_json.hpp"
#include "app/compose.hpp"
#include "app/day_file.hpp"
#include "app/forecast_report.hpp"
#include "app/measured.hpp"
#include "app/odds_report.hpp"
#include "app/track_day.hpp"
#include "catalogue/explain.hpp"
#include "decode/table_reader.hpp"
#include "door/decide.hpp"
#include "door/known_day.hpp"
#include "door/node_json.hpp"
#include "door/strip_data.hpp"

namespace tillwrap::door {

namespace {

using app::Json;
using decode::TableReader;

constexpr std::size_t kMostCachedDays = 2;
// While a finger moves: of the stepping, see forecast::RunOptions. The answer that follows is the fine one.
constexpr double kQuickTolerance = 4.0;
constexpr std::uint32_t kChangeDays = 128;
constexpr double kDue_s = 600.0;  // a change planned so long ago may still be to come
constexpr std::string_view kWithoutDay = ",journal,journal_line,health,params,run,";
constexpr std::string_view kFurther = ",meters,findings,travel,choose,remedies,recharge,sheet,";
constexpr const char* kQuestions =
    "as_json, forecast, odds_range, odds_summary, catalogue, compose, changes, stands, track, track_share, "
    "meters, findings, travel, choose, remedies, recharge, sheet, journal, journal_line, health, params, run";

Json error_json(const std::string& source, decode::Place place, const std::string& message, const std::string& hint) {
  return {{"source", source}, {"line", place.line}, {"column", place.column}, {"message", message}, {"hint", hint}};
}

}  // namespace

struct Door::Own {
  const Further* further = nullptr;
  odds::Tell tell;
  std::vector<double> curves;
  std::vector<double> samples;

  // Days already read, by their text: the odds come in many ranges of the same day.
  using Known = KnownDay;
  std::vector<std::unique_ptr<Known>> known;

  Known& day(TableReader& question) {
    const std::string text = question.text("day");
    const std::string name = question.text_or("name", "the day");
    for (std::size_t i = 0; i < known.size(); ++i) {
      if (known[i]->text != text) continue;
      std::rotate(known.begin(), known.begin() + static_cast<std::ptrdiff_t>(i),
                  known.begin() + static_cast<std::ptrdiff_t>(i) + 1);
      return *known.front();
    }
    auto made = std::make_unique<Known>();
    made->text = text;
    made->document = decode::read_toml_or_json(text, name);
    made->file = app::read_day(made->document, catalogue::builtin());
    made->measured = app::apply_measured(made->file);
    known.insert(known.begin(), std::move(made));
    if (known.size() > kMostCachedDays) known.pop_back();
    return *known.front();
  }

  // {"day": TEXT} -> the day as JSON, ready to edit and to ask with.
  Json as_json(TableReader& question) {
    const std::string text = question.text("day");
    const decode::Document found = decode::read_toml_or_json(text, question.text_or("name", "the day"));
    app::DayFile file = app::read_day(found, catalogue::builtin());
    Json out = {{"day", node_json(found.root)}};
    out["warnings"] = Json::array();
    for (const app::Warning& warning : file.warnings)
      out["warnings"].push_back(
          {{"line", warning.place.line}, {"column", warning.place.column}, {"text", warning.text}});
    return out;
  }

  // {"day": TEXT, "one_loss": bool, "odds_days": n, "strip": bool}
  Json forecast(TableReader& question) {
    Known& of = day(question);
    forecast::ForecastOptions options;
    options.with_one_loss = question.boolean_or("one_loss", true);
    options.trace = question.boolean_or("strip", false);
    const bool quick = question.boolean_or("quick", false);
    if (quick) {
      options.tolerance = kQuickTolerance;
      options.loss_only = true;
    }
    const auto days = static_cast<std::uint32_t>(question.integer_or("odds_days", 0, 100000, 0));
    forecast::Forecast answer = forecast::forecast(of.file.scenario, options);
    std::optional<odds::OddsAnswer> odds;
    if (days > 0) {
      odds = odds::odds(of.file.scenario, app::odds_options(of.file, days, 1));
      app::take_odds(of.file.scenario, *odds, answer);
    }
    const app::ForecastReport report{
        .file = &of.file, .forecast = &answer, .measured = &of.measured, .odds = odds ? &*odds : nullptr};
    Json out = {{"forecast", app::forecast_object(report, quick)}};
    if (options.trace) {
      curves.clear();
      out["strip"] = strip_json(report, curves);
    }
    return out;
  }

  // {"day": TEXT, "days": n, "seed": n, "first": k, "count": m} -> samples(), a margin a day.
  Json odds_range(TableReader& question) {
    Known& of = day(question);
    const auto days = static_cast<std::uint32_t>(question.integer("days", 1, 10'000'000));
    const auto seed = static_cast<std::uint64_t>(question.integer_or("seed", 0, 1'000'000'000, 1));
    const auto first = static_cast<std::uint32_t>(question.integer("first", 0, days - 1));
    const auto count = static_cast<std::size_t>(question.integer("count", 1, days - first));
    const odds::OddsOptions options = app::odds_options(of.file, days, seed);
    std::unique_ptr<odds::Worker>& worker = of.workers[std::to_string(days) + "/" + std::to_string(seed)];
    if (!worker) worker = std::make_unique<odds::Worker>(of.file.scenario, options);
    std::vector<odds::DayOutcome> outcomes(count);
    worker->run(first, outcomes);
    samples.clear();
    for (const odds::DayOutcome& outcome : outcomes) samples.push_back(outcome.margin_s);
    return {{"first", first}, {"count", count}};
  }

  // {"day": TEXT, "days": n, "seed": n}, with samples() holding all days' margins in order.
  Json odds_summary(TableReader& question) {
    Known& of = day(question);
    const auto days = static_cast<std::uint32_t>(question.integer("days", 1, 10'000'000));
    const auto seed = static_cast<std::uint64_t>(question.integer_or("seed", 0, 1'000'000'000, 1));
    if (samples.size() != days)
      question.fail("days", "as many margins as days are expected", "ask \"odds_range\" for each of them first");
    std::vector<odds::DayOutcome> outcomes(days);
    for (std::size_t i = 0; i < outcomes.size(); ++i) outcomes[i].margin_s = samples[i];
    const odds::OddsOptions options = app::odds_options(of.file, days, seed);
    return app::odds_summary(odds::summary(of.file.scenario, options, outcomes));
  }

  Json changes(TableReader& question) { return changes_of(this->day(question).file, 0.0, -forecast::kNever); }

  // How long each pack in use would serve that is to come out later than `from_s`.
  static Json changes_of(const app::DayFile& file, double now_s, double from_s) {
    const day::Scenario& day = file.scenario;
    Json out = Json::array();
    for (const odds::ChangeOdds& change : odds::change_odds(day, app::odds_options(file, kChangeDays, 1), from_s)) {
      out.push_back(app::change_json(day, change, now_s));
    }
    return out;
  }

  // {"day": TEXT, "lines": journal lines, "at_s": now, "changes": bool}: the day with what was changed, begun, late; no
  // reading weighed. What the on-set room shows at once, before `track` has its answer.
  Json stands(TableReader& question) {
    KnownDay& of = this->day(question);
    app::TrackWords words;
    words.at_s = question.maybe_number("at_s", {.least = 0.0, .most = 4 * 86400.0});
    const bool changes = question.boolean_or("changes", true);
    app::TrackAnswer now = app::day_as_it_stands(of.file, question.text("lines"), "the journal", words);
    app::DayFile file = of.file;
    file.scenario = std::move(now.scenario);
    forecast::ForecastOptions options;
    options.with_one_loss = false;
    options.trace = true;
    const forecast::Forecast answer = forecast::forecast(file.scenario, options);
    const app::ForecastReport report{.file = &file, .forecast = &answer, .measured = &of.measured};
    curves.clear();
    return {{"forecast", app::forecast_object(report)},
            {"strip", strip_json(report, curves)},
            {"changes", changes ? changes_of(file, now.at_s, now.at_s - kDue_s) : Json::array()},
            {"late_s", now.slid_s},
            {"notes", now.notes}};
  }

  static app::TrackWords track_words(TableReader& question) {
    app::TrackWords words;
    words.at_s = question.maybe_number("at_s", {.least = 0.0, .most = 4 * 86400.0});
    words.roll_s = question.number_or("roll_s", words.roll_s, {.most = 12.0 * 3600.0, .above = 0.0});
    return words;
  }

  // {"day": TEXT, "lines": journal lines, "at_s": now, "roll_s": length of a take}
  Json track(TableReader& question) {
    KnownDay& of = this->day(question);
    const app::TrackWords words = track_words(question);
    return app::track_object(app::track_day(of.file, question.text("lines"), "the journal", words));
  }

  // The same in steps, for two workers: {..., "share": 0 or 1}, with samples() holding what all earlier steps gave, of
  // each step each share's count and its numbers -> "last", whether this was the last step, and in samples() the
  // numbers of this share; once all steps are there, "track".
  Json track_share(TableReader& question) {
    KnownDay& of = this->day(question);
    const std::string lines = question.text("lines");
    const app::TrackWords words = track_words(question);
    const auto share = static_cast<std::size_t>(question.integer("share", 0, track::Tracking::kShares - 1));
    const std::string asked = fmt::format("{} {} {}", words.at_s.value_or(-1.0), words.roll_s, lines);
    Steps& steps = of.steps;
    if (!steps.tracking || steps.question != asked || steps.taken > samples.size())
      steps = {.question = asked, .tracking = std::make_unique<app::DayTracking>(of.file, lines, "the journal", words)};
    track::Tracking& tracking = steps.tracking->steps();
    while (steps.taken < samples.size()) {
      std::array<std::vector<double>, track::Tracking::kShares> shares;
      std::size_t next = steps.taken;
      for (std::size_t k = 0; k < shares.size(); ++k) {
        const double room = next < samples.size() ? static_cast<double>(samples.size() - next - 1) : -1.0;
        const bool there = room >= 0.0 && samples[next] >= 0.0 && samples[next] <= room;
        if (there) {
          const auto from = samples.begin() + static_cast<std::ptrdiff_t>(next) + 1;
          shares[k].assign(from, from + static_cast<std::ptrdiff_t>(samples[next]));
          next += shares[k].size() + 1;
        }
        if (!there || tracking.done() || !tracking.fits(k, shares[k]))
          question.fail("share", "the numbers beside it are not those of its earlier steps", "begin with none");
      }
      tracking.take(shares);
      steps.taken = next;
    }
    if (tracking.done()) {
      const app::TrackAnswer answer = steps.tracking->answer();
      steps = {};  // what was held for it is no more needed
      return {{"track", app::track_object(answer)}};
    }
    const bool last = tracking.at_last_step();
    samples = tracking.share(share);
    return {{"last", last}};
  }

  // {"what": list or id}
  static Json catalogue(TableReader& question) {
    const std::string what = question.text_or("what", "");
    const auto found = catalogue::explain_object(catalogue::builtin(), what);
    if (!found) question.fail("what", catalogue::unknown_words(catalogue::builtin(), what));
    return *found;
  }

  // {"wishes": {...}} -> a day to start from, and what was taken for granted.
  static Json compose(TableReader& question) {
    TableReader wishes = question.table("wishes", "the wishes");
    const app::Composed made = app::compose(wishes, catalogue::builtin());
    const app::DayFile file =
        app::read_day(decode::read_toml_or_json(made.day.dump(1), "the composed day"), catalogue::builtin());
    Json out = {{"day", made.day}, {"box", made.box}, {"notes", made.notes}};
    out["warnings"] = Json::array();
    for (const app::Warning& warning : file.warnings) out["warnings"].push_back(warning.text);
    return out;
  }

  Json answer(const std::string& asked, TableReader& question) {
    if (asked == "as_json") return as_json(question);
    if (asked == "forecast") return forecast(question);
    if (asked == "odds_range") return odds_range(question);
    if (asked == "odds_summary") return odds_summary(question);
    if (asked == "catalogue") return catalogue(question);
    if (asked == "compose") return compose(question);
    if (asked == "changes") return changes(question);
    if (asked == "stands") return stands(question);
    if (asked == "track") return track(question);
    if (asked == "track_share") return track_share(question);
    const bool on_a_day = kFurther.find("," + asked + ",") != std::string_view::npos;
    const bool without_day = kWithoutDay.find("," + asked + ",") != std::string_view::npos;
    if (asked.empty() || (!on_a_day && !without_day))
      question.fail("ask", "there is no question \"" + asked.substr(0, 40) + "\"", kQuestions);
    if (further == nullptr)
      question.fail("ask", "\"" + asked + "\" is beyond this part of the engine", "ask the whole engine");
    return on_a_day ? further->decide(asked, day(question), question, tell)
                    : further->without_day(asked, question, tell);
  }
};

Door::Door(const Further* further, odds::Tell tell) : own_(std::make_unique<Own>()) {
  own_->further = further;
  own_->tell = std::move(tell);
}
Door::~Door() = default;
Door::Door(Door&&) noexcept = default;
Door& Door::operator=(Door&&) noexcept = default;

std::string Door::ask(const std::string& question) {
  Json out;
  out["id"] = nullptr;
  try {
    const decode::Document document = decode::read_json(question, "the question");
    TableReader reader(document, document.root, "the question");
    out["id"] = reader.integer_or("id", 0, 1'000'000'000, 0);
    out["answer"] = own_->answer(reader.text("ask"), reader);
  } catch (const decode::InputError& error) {
    out["error"] = error_json(error.source, error.place, error.message, error.hint);
  } catch (const std::exception& error) {
    out["error"] = error_json("the engine", {0, 0}, error.what(), "");
  }
  return out.dump(-1, ' ', false, Json::error_handler_t::replace);
}

const std::vector<double>& Door::curves() const { return own_->curves; }
std::vector<double>& Door::samples() { return own_->samples; }

}  // namespace tillwrap::door
