// A log file for `tillwrap fit`: read, checked, repaired where the repair can be said in a sentence, refused otherwise.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "app/csv_log.hpp"
#include "fit/log.hpp"

namespace tillwrap::app {

struct FitLogFile {
  std::string name;
  std::string text;
};

struct FitLogWords {
  int cells = 1;                    // in series; volts are divided by it
  bool pulse = false;               // a pulse test: charge comes from discharged_ah
  std::optional<double> ambient_k;  // said by the user
};

// The log of one cell. Every repair and every assumption is put into `notes`, one sentence each, beginning with the
// file's name. Throws decode::InputError.
fit::Log read_fit_log(const FitLogFile& file, const FitLogWords& words, const cell::CellParams& cell,
                      std::vector<std::string>& notes);

// The same of a log that is read already, its columns named as ours.
fit::Log read_fit_log(CsvLog csv, const std::string& source, const FitLogWords& words, const cell::CellParams& cell,
                      std::vector<std::string>& notes);

// What must fit the cell at hand, once its size is known: enough charge taken, no charging on the way, gaps; sets how
// the log starts and whether its length counts.
void settle_fit_log(fit::Log& log, const cell::CellParams& cell, std::vector<std::string>& notes);

}  // namespace tillwrap::app
