// Runs ngspice, an independent circuit simulator, in batch mode on a netlist written by the test.
#pragma once

#include <map>
#include <string>
#include <vector>

namespace tillwrap::reference {

// A deck without its title, control block and .end. Element lines are added as text, so that what ngspice is given can
// be read in the test.
class Deck {
 public:
  void line(const std::string& text) { lines_ += text + "\n"; }
  [[nodiscard]] const std::string& lines() const { return lines_; }

 private:
  std::string lines_;
};

// A number as ngspice reads it, with all its digits.
std::string number(double value);

// Volts of the operating point, by node name. Throws std::runtime_error with ngspice's own words when it finds none.
std::map<std::string, double> operating_point(const Deck& deck, const std::vector<std::string>& nodes);

// Seconds at which `node` falls through `volts` in a transient run of `until_s` with steps of at most `step_s`,
// starting from the deck's own initial conditions.
double falls_through_at(const Deck& deck, const std::string& node, double volts, double until_s, double step_s);

// A transient run with options of its own, for its time: when `node` falls through `volts`, and the seconds ngspice
// says its analysis took (without reading the deck and starting up).
struct TimedFall {
  double falls_s = 0.0;
  double analysis_s = 0.0;
  long points = 0;  // accepted moments
};
TimedFall timed_fall(const Deck& deck, const std::string& options, const std::string& node, double volts,
                     double until_s, double step_s);

// Volts of nodes at moments of one transient run, [moment][node], and when each of `crossings` happens.
struct Crossing {
  std::string node;
  double volts = 0.0;
  bool rising = false;
  int nth = 1;
};
struct Transient {
  std::vector<std::vector<double>> volts;
  std::vector<double> crossing_s;
};
Transient transient(const Deck& deck, const std::vector<std::string>& nodes, const std::vector<double>& moments_s,
                    const std::vector<Crossing>& crossings, double until_s, double step_s);

// Whether ngspice can be run here.
bool have_spice();

}  // namespace tillwrap::reference
