#include "door/run_question.hpp"

#include <map>

#include "app/measured.hpp"
#include "app/run_report.hpp"
#include "catalogue/catalogue.hpp"
#include "door/journal_questions.hpp"

namespace tillwrap::door {

app::Json run_question(decode::TableReader& question, const odds::Tell& tell) {
  const app::RunFile run = app::read_run(decode::read_toml_or_json(question.text("run"), "the run"));
  std::map<std::string, decode::Document> files;
  for (decode::TableReader& one : question.tables("days")) {
    const std::string name = one.text("file");
    files.emplace(name, decode::read_toml_or_json(one.text("day"), name));
    one.finish();
  }
  app::RunWords words{
      .choose = question.boolean_or("choose", false), .help = question.boolean_or("help", true), .tell = tell};
  if (tell.found) words.found = [&tell](const app::RunAnswer& answer) { tell.found(app::run_object(answer).dump()); };
  std::vector<app::DayFile> days;
  for (const app::RunDay& day : run.days) {
    const auto found = files.find(day.file);
    if (found == files.end())
      throw decode::InputError(run.source, day.place, "there is no day \"" + day.file.substr(0, 60) + "\"",
                               "give it in days, as file and day");
    days.push_back(app::read_day(found->second, catalogue::builtin()));
    app::apply_measured(days.back());
  }
  if (const std::optional<app::KitAnswer> kit = asked_kit(question))
    words.journal = app::take_from_journal(days, *kit, catalogue::builtin());
  return app::run_object(app::run_days(run, days, words, catalogue::builtin(), odds::one_after_another));
}

}  // namespace tillwrap::door
