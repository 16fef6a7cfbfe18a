// A run file with the day files it names.
#pragma once

#include <string>
#include <vector>

#include "app/run_days.hpp"
#include "decode/node.hpp"

namespace tillwrap::cli {

struct RunFiles {
  app::RunFile run;
  std::vector<app::DayFile> days;  // with measured draws applied
};
// `path` is where `document` came from: the days stand relative to its folder. Throws decode::InputError.
RunFiles run_files(const decode::Document& document, const std::string& path);
app::RunAnswer follow_run(const RunFiles& files, app::RunWords words, unsigned threads);

}  // namespace tillwrap::cli
