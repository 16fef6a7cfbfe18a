#include "reference/spice.hpp"

#include <unistd.h>

#include <algorithm>
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

// Where switches open and close: a microvolt, and steps as short as they ask for.
constexpr const char* kSwitching = ".options reltol=1e-5 vntol=1e-6 abstol=1e-8 itl1=500 itl4=200 method=gear\n";

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

std::string run(const Deck& deck, const std::string& control, const std::string& options = kOptions) {
  const Folder folder;
  const auto file = folder.path() / "deck.cir";
  const auto log = folder.path() / "log";
  std::ofstream(file) << "* written by the test\n"
                      << options << deck.lines() << ".control\nset numdgt=13\n"
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

TimedFall timed_fall(const Deck& deck, const std::string& options, const std::string& node, double volts,
                     double until_s, double step_s) {
  const std::string control = "save v(" + node + ")\ntran " + number(step_s) + " " + number(until_s) + " 0 " +
                              number(step_s) + "\nmeas tran falls when v(" + node + ")=" + number(volts) +
                              " fall=last\nrusage\n";
  const std::string output = run(deck, control, options);
  std::smatch match;
  if (!std::regex_search(output, match, std::regex("Total analysis time \\(seconds\\) = ([0-9.eE+-]+)")))
    throw std::runtime_error("ngspice gave no analysis time:\n" + output);
  TimedFall answer{.falls_s = find_number(output, "falls"), .analysis_s = std::stod(match[1].str())};
  if (std::regex_search(output, match, std::regex("No. of Data Rows : ([0-9]+)")))
    answer.points = std::stol(match[1].str());
  return answer;
}

Transient transient(const Deck& deck, const std::vector<std::string>& nodes, const std::vector<double>& moments_s,
                    const std::vector<Crossing>& crossings, double until_s, double step_s) {
  std::string control = "tran " + number(step_s) + " " + number(until_s) + " 0 " + number(step_s) + "\n";
  for (std::size_t k = 0; k < crossings.size(); ++k) {
    control += "meas tran crossing" + std::to_string(k) + " when v(" + crossings[k].node +
               ")=" + number(crossings[k].volts) + (crossings[k].rising ? " rise=" : " fall=") +
               std::to_string(crossings[k].nth) + "\n";
  }
  for (std::size_t m = 0; m < moments_s.size(); ++m) {
    for (std::size_t n = 0; n < nodes.size(); ++n) {
      control += "meas tran at" + std::to_string(m) + "_" + std::to_string(n) + " find v(" + nodes[n] +
                 ") at=" + number(moments_s[m]) + "\n";
    }
  }
  const std::string output = run(deck, control, kSwitching);
  // One pass over the lines; thousands of searches by name would take longer than the run.
  std::map<std::string, double> found;
  std::istringstream lines(output);
  for (std::string line; std::getline(lines, line);) {
    std::istringstream words(line);
    std::string name;
    std::string equals;
    double value = 0.0;
    if (words >> name >> equals >> value && equals == "=") found.emplace(name, value);
  }
  const auto value_of = [&](const std::string& name) {
    const auto it = found.find(name);
    if (it == found.end())
      throw std::runtime_error("ngspice gave no " + name + ":\n" +
                               output.substr(output.size() - std::min<std::size_t>(output.size(), 2000)));
    return it->second;
  };
  Transient answer;
  for (std::size_t k = 0; k < crossings.size(); ++k)
    answer.crossing_s.push_back(value_of("crossing" + std::to_string(k)));
  for (std::size_t m = 0; m < moments_s.size(); ++m) {
    answer.volts.emplace_back();
    for (std::size_t n = 0; n < nodes.size(); ++n) {
      answer.volts.back().push_back(value_of("at" + std::to_string(m) + "_" + std::to_string(n)));
    }
  }
  return answer;
}

bool have_spice() { return std::system("ngspice --version > /dev/null 2>&1 < /dev/null") == 0; }

}  // namespace tillwrap::reference
