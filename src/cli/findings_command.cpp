#include "cli/findings_command.hpp"

#include <algorithm>
#include <memory>

#include "app/findings_report.hpp"
#include "app/wiring_picture.hpp"
#include "cli/files.hpp"

namespace tillwrap::cli {

namespace {

struct Options {
  std::string path;
  std::string svg;
  bool json = false;
};

int run(const Options& options) {
  if (!options.svg.empty() && same_file(options.path, options.svg))
    throw decode::InputError(options.svg, {1, 1}, "this is the day file itself",
                             "name another file for the drawing; nothing was changed");
  const app::DayFile file = read_day(options.path);
  const std::vector<findings::Finding> found = findings::find(file.scenario, file.inventory, catalogue::builtin());
  if (!options.svg.empty()) write_file(options.svg, app::wiring_svg(file, found));
  if (print(options.json ? app::findings_json(file, found) : app::findings_text(file, found)) != 0) return 2;
  const bool stops = std::any_of(found.begin(), found.end(), [](const findings::Finding& finding) {
    return finding.severity == findings::Severity::stops;
  });
  return stops ? 1 : 0;
}

}  // namespace

void add_findings(CLI::App& program, Commands& commands) {
  auto options = std::make_shared<Options>();
  CLI::App* words = program.add_subcommand(
      "findings", "what is wrong in the wiring: fuses, drops, plugs, polarity, single points; and a drawing of it");
  add_day_option(*words, options->path);
  words->add_option("--svg", options->svg, "draw the wiring into this file");
  words->add_flag("--json", options->json, "print JSON (schema/findings.schema.json)");
  commands.push_back({words, [options] { return run(*options); }});
}

}  // namespace tillwrap::cli
