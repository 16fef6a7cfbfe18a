#include "cli/meters_command.hpp"

#include <memory>

#include "app/meters_report.hpp"
#include "catalogue/catalogue.hpp"

namespace tillwrap::cli {

namespace {

struct Words {
  std::string path, device;
  bool json = false;
};

std::string names_of(const app::DayFile& file) {
  std::string names;
  for (std::size_t d = 0; d < file.scenario.devices.size(); ++d) {
    if (file.inventory.devices[d].kind == nullptr) continue;  // a box's own electronics
    names += (names.empty() ? "" : ", ") + file.scenario.devices[d].name;
  }
  return names;
}

int run(const Words& words) {
  app::DayFile file = read_day(words.path);
  int device = -1;
  for (std::size_t d = 0; d < file.scenario.devices.size(); ++d) {
    if (file.scenario.devices[d].name == words.device && file.inventory.devices[d].kind != nullptr)
      device = static_cast<int>(d);
  }
  if (!words.device.empty() && device < 0) {
    throw decode::InputError("command line", {1, 1}, "--device: the day has no device \"" + words.device + "\"",
                             "it has: " + names_of(file));
  }
  const meters::Answer answer =
      meters::meters(file.scenario, file.inventory, catalogue::builtin(), app::meters_options(file, device));
  const app::MetersReport report{.file = &file, .answer = &answer, .one_device = device >= 0};
  return print(words.json ? app::meters_json(report) : app::meters_text(report));
}

}  // namespace

void add_meters(CLI::App& program, Commands& commands) {
  const auto words = std::make_shared<Words>();
  CLI::App* command =
      program.add_subcommand("meters", "which meter profile and volts to set, and what it should read when");
  add_day_option(*command, words->path);
  command->add_option("--device", words->device, "everything about this one device");
  command->add_flag("--json", words->json, "print JSON (schema/meters.schema.json)");
  commands.push_back({command, [words] { return run(*words); }});
}

}  // namespace tillwrap::cli
