// What a smart pack tells of itself: registers of the Smart Battery Data Specification 1.1 (1998), exported as CSV.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "app/csv_log.hpp"

namespace tillwrap::app {

// The last row's claims, and how they moved. Ah; fractions.
struct Registers {
  std::optional<double> full_ah;         // 0x10 FullChargeCapacity
  std::optional<double> design_ah;       // 0x18 DesignCapacity
  std::optional<double> first_fraction;  // 0x0D RelativeStateOfCharge
  std::optional<double> last_fraction;
  std::optional<double> first_remaining_ah;  // 0x0F RemainingCapacity
  std::optional<double> last_remaining_ah;
  std::optional<double> cycles;  // 0x17 CycleCount
  bool has_log = false;          // volts, current and time, in at least ten rows
};

// Whether the columns are registers: by number ("0x10") or by the specification's names ("FullChargeCapacity()").
bool are_registers(const CsvLog& csv);

// Reads them and renames what a log needs to time_s, voltage_v, current_a (discharge positive; the specification has it
// negative), surface_c, and cell1_v to cell4_v of the optional registers 0x3F down to 0x3C. Throws decode::InputError:
// a register twice, a value it cannot have.
Registers read_registers(CsvLog& csv, const std::string& source, std::vector<std::string>& notes);

}  // namespace tillwrap::app
