#include "reference/spice.hpp"

#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <regex>
#include <sstream>
#include <stdexcept>

namespace tillwrap::reference {

namespace {

// Tolerances well below what is compared: 1e-7 of a volt.
constexpr const char* kOptions = ".options reltol=1e-7 vntol=1e-9 abstol=1e-12 itl1=500 itl4=100\n";

class Folder {
 public:
  Folder() {
    std::string pattern = (std::filesystem::temp_directory_path() / "tillwrap-spice-XXXXXX").string();
    if (mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("no temporary folder");
    path_ = pattern;
  }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

std::string run(const Deck& deck, const std::string& control) {
  const Folder folder;
  const auto file = folder.path() / "deck.cir";
  const auto log = folder.path() / "log";
  std::ofstream(file) << "* written by the test\n"
                      << kOptions << deck.lines() << ".control\nset numdgt=13\n"
                      << control << "quit\n.endc\n.end\n";
  const std::string command = "ngspice -b '" + file.string() + "' > '" + log.string() + "' 2>&1 < /dev/null";
  std::system(command.c_str());  // its exit code says nothing about convergence; the output does
  std::ifstream in(log);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

double find_number(const std::string& output, const std::string& name) {
  // Names come back in lower case.
  const std::regex pattern("(?:^|\\n)\\s*" + name + "\\s*=\\s*([-+0-9.eE]+)");
  std::smatch match;
  if (!std::regex_search(output, match, pattern)) throw std::runtime_error("ngspice gave no " + name + ":\n" + output);
  return std::stod(match[1].str());
}

}  // namespace

std::string number(double value) {
  char text[40];
  std::snprintf(text, sizeof text, "%.17g", value);
  return text;
}

std::map<std::string, double> operating_point(const Deck& deck, const std::vector<std::string>& nodes) {
  std::string control = "op\n";
  for (const auto& node : nodes) control += "print v(" + node + ")\n";
  const std::string output = run(deck, control);
  std::map<std::string, double> volts;
  for (const auto& node : nodes) volts[node] = find_number(output, "v\\(" + node + "\\)");
  return volts;
}

double falls_through_at(const Deck& deck, const std::string& node, double volts, double until_s, double step_s) {
  const std::string control = "tran " + number(step_s) + " " + number(until_s) + " 0 " + number(step_s) +
                              "\nmeas tran falls when v(" + node + ")=" + number(volts) + " fall=1\n";
  return find_number(run(deck, control), "falls");
}

bool have_spice() { return std::system("ngspice --version > /dev/null 2>&1 < /dev/null") == 0; }

}  // namespace tillwrap::reference
