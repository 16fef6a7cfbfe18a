#include "cli/kit_command.hpp"

#include <memory>

#include "app/kit_now.hpp"
#include "app/words.hpp"
#include "cli/journal_file.hpp"
#include "cli/local_zone.hpp"

namespace tillwrap::cli {

namespace {

struct Words {
  std::string journal, on = "now";
  bool json = false;
};

int run(const Words& words) {
  const app::Zone zone = local_zone();
  const std::int64_t now = now_us();
  std::vector<std::string> notes;
  // A date alone is its noon; "21:30" of today may well be still to come.
  const std::string on = words.on.size() == 10 && words.on[4] == '-' ? words.on + " 12:00" : words.on;
  const std::int64_t at = app::moment_of(on, now, zone, notes).us;
  store::Store store(journal_path(words.journal), store::Open::read);
  const app::KitAnswer answer = app::kit_now(folded(store, at), catalogue::builtin(), at);
  std::string text = words.json ? app::kit_json(answer, zone) : app::kit_text(answer, zone);
  if (!words.json) {
    for (const std::string& note : notes) text += app::wrapped("note: " + note, 80, "  ") + "\n";
  }
  return print(text);
}

}  // namespace

void add_kit(CLI::App& program, Commands& commands) {
  const auto words = std::make_shared<Words>();
  CLI::App* command =
      program.add_subcommand("kit", "each pack now, by the journal: charge, health, where it lies, when to retire it");
  add_journal_option(*command, words->journal);
  command->add_option("--on", words->on, "as of then: \"2026-12-01\", \"2026-12-01 06:00\"; now if left out");
  command->add_flag("--json", words->json, "print JSON (schema/kit.schema.json)");
  commands.push_back({command, [words] { return run(*words); }});
}

}  // namespace tillwrap::cli
