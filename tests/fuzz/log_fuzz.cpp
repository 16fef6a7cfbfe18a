// A measured log of any bytes: read, repaired and said, or refused with one complaint. What was read has finite
// numbers, rising times and notes that are UTF-8.
#include <cmath>
#include <cstdlib>
#include <string>
#include <vector>

#include "app/fit_log.hpp"
#include "catalogue/catalogue.hpp"
#include "decode/node.hpp"

extern "C" int LLVMFuzzerTestOneInput(const unsigned char* data, std::size_t size) {
  using namespace tillwrap;
  const app::FitLogFile file{.name = "log.csv", .text = std::string(reinterpret_cast<const char*>(data), size)};
  const cell::CellParams& cell = catalogue::builtin().cell("nca")->params;
  for (const bool pulse : {false, true}) {
    std::vector<std::string> notes;
    try {
      fit::Log log = app::read_fit_log(file, {.pulse = pulse}, cell, notes);
      app::settle_fit_log(log, cell, notes);
      for (std::size_t i = 0; i < log.t_s.size(); ++i) {
        if (!std::isfinite(log.volts.at(i)) || !std::isfinite(log.amps.at(i))) std::abort();
        if (i > 0 && !(log.t_s[i] > log.t_s[i - 1])) std::abort();
      }
    } catch (const decode::InputError&) {
    }
  }
  return 0;
}
