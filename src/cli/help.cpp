#include "cli/help.hpp"

#include <array>
#include <string>
#include <string_view>
#include <utility>

#include "app/words.hpp"

namespace tillwrap::cli {

namespace {

constexpr std::size_t kWidth = 80;
constexpr std::size_t kNames = 30;  // columns of the names, descriptions stand beside them

class Formatter : public CLI::Formatter {
 public:
  Formatter() { column_width(kNames); }
  std::string make_option_desc(const CLI::Option* option) const override {
    return app::wrapped(option->get_description(), kWidth - kNames, "");
  }
  std::string make_subcommand(const CLI::App* command) const override {
    std::stringstream out;
    CLI::detail::format_help(out, command->get_display_name(true),
                             app::wrapped(command->get_description(), kWidth - kNames, ""), kNames);
    return out.str();
  }
  std::string make_description(const CLI::App* command) const override {
    return app::wrapped(command->get_description(), kWidth, "") + "\n";
  }
};

constexpr const char* kDay = "0 the day reaches wrap, 1 it does not";

// Of commands that end with 1 when all went well and the answer is no.
constexpr std::array<std::pair<std::string_view, const char*>, 14> kAnswers{{
    {"forecast", kDay},
    {"odds", kDay},
    {"sheet", kDay},
    {"run", "0 every day reaches wrap, 1 one does not"},
    {"findings", "0 nothing stops the day, 1 something must-run goes dark"},
    {"track", "0 it is likelier to last than not, 1 it is not"},
    {"choose", "0 a plan that is sure enough, 1 there is none"},
    {"compare", "0 some choice makes the day, 1 none does"},
    {"remedies", "0 something computed is enough, or nothing is needed; 1 nothing is"},
    {"recharge", "0 every pack needed is ready, 1 one is not"},
    {"travel", "0 all may fly, 1 something may not or needs more travellers"},
    {"journal", "0 done, 1 verify found something wrong"},
    {"verify", "0 sound, 1 something is wrong"},
    {"expendables", "0 the planned cells last, 1 they do not"},
}};

std::string footer(const std::string& answer) {
  return app::wrapped("Exit codes: " + answer + (answer.find(';') == std::string::npos ? ", " : "; ") + "2 bad input.",
                      kWidth, "  ");
}

void add_to_commands_of(CLI::App& level) {
  for (CLI::App* command : level.get_subcommands([](const CLI::App*) { return true; })) {
    add_to_commands_of(*command);
    if (!command->get_footer().empty()) continue;
    std::string answer = "0 done";
    for (const auto& [name, says] : kAnswers) {
      if (command->get_name() == name) answer = says;
    }
    command->footer(footer(answer));
  }
}

}  // namespace

std::shared_ptr<CLI::Formatter> help_formatter() { return std::make_shared<Formatter>(); }

void add_exit_codes(CLI::App& program) {
  program.footer(footer("0 done, and yes where a command answers yes or no; 1 no"));
  add_to_commands_of(program);
}

}  // namespace tillwrap::cli
