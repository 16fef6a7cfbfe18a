#include "cli/run_files.hpp"

#include "catalogue/catalogue.hpp"
#include "cli/commands.hpp"
#include "cli/files.hpp"
#include "cli/threads.hpp"
#include "cli/watched.hpp"

namespace tillwrap::cli {

RunFiles run_files(const decode::Document& document, const std::string& path) {
  RunFiles files{.run = app::read_run(document)};
  const std::string folder = folder_of(path);
  for (const app::RunDay& day : files.run.days) {
    const std::string where = day.file.starts_with('/') ? day.file : folder + day.file;
    if (day.file.empty() || day.file == "-" || !exists(where))
      throw decode::InputError(files.run.source, day.place, "there is no day file \"" + day.file.substr(0, 60) + "\"",
                               "a path is relative to the run file");
    files.days.push_back(read_day(where));
  }
  return files;
}

app::RunAnswer follow_run(const RunFiles& files, app::RunWords words, unsigned threads) {
  Watched watched("the run");
  words.tell = watched.tell();
  return app::run_days(files.run, files.days, words, catalogue::builtin(), on_threads(threads));
}

}  // namespace tillwrap::cli
