// Who feeds whom through which leads, and what the run saw there.
#pragma once

#include <vector>

#include "day/scenario.hpp"
#include "forecast/result.hpp"

namespace tillwrap::findings {

// A source of a port's volts with nothing but leads between: a holder, a supply, or a regulated output.
struct Feed {
  enum class Kind { holder, supply, regulator };
  Kind kind = Kind::holder;
  int index = 0;
  std::vector<int> leads{};  // from the port to the source
};

class Circuit {
 public:
  explicit Circuit(const day::Scenario& day) : day_(day) {}

  // Over leads only.
  [[nodiscard]] std::vector<Feed> feeds(int port) const;
  // Holders and supplies over leads and regulators; `without` is a lead taken out, `around` a switch device whose leads
  // are. Charger bays and empty holders do not count.
  struct Sources {
    std::vector<int> holders, supplies;
  };
  [[nodiscard]] Sources sources(int port, int without = -1, int around = -1) const;
  // Devices behind a port, over leads and regulators.
  [[nodiscard]] std::vector<int> devices_behind(int port) const;
  // A holder, or a supply alive from call to off, feeds it.
  [[nodiscard]] bool fed(int device, int without = -1, int around = -1) const;
  [[nodiscard]] bool must_run(int device) const;

 private:
  const day::Scenario& day_;
};

// Lead currents and warmth between the first period and off.
class Seen {
 public:
  Seen(const day::Scenario& day, const forecast::DayRun& run);

  [[nodiscard]] std::size_t rows() const { return rows_; }
  [[nodiscard]] double at_s(std::size_t row) const { return run_.trace.at_s[row]; }
  [[nodiscard]] double amps(int lead, std::size_t row) const;
  [[nodiscard]] double place_k(int place, std::size_t row) const;
  [[nodiscard]] double lead_ohm(int lead, std::size_t row) const;  // copper at its temperature, contacts, fuse

  struct Peak {
    double value = 0.0;
    double at_s = 0.0;
    std::size_t row = 0;
  };
  [[nodiscard]] Peak most_amps(int lead) const;
  [[nodiscard]] Peak most_holder_amps(int holder) const;
  // Sum of the leads that leave a port.
  [[nodiscard]] double out_amps(int port, std::size_t row) const;
  [[nodiscard]] Peak most_out_amps(int port) const;
  // Greatest mean over an hour (or over the day, when it is shorter).
  [[nodiscard]] double sustained_amps(int lead) const;

 private:
  const day::Scenario& day_;
  const forecast::DayRun& run_;
  std::size_t rows_ = 0;
};

}  // namespace tillwrap::findings
