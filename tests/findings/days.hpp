// A small sound day for the rules: each test changes one thing in it.
#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include "app/day_file.hpp"
#include "app/measured.hpp"
#include "decode/node.hpp"
#include "findings/findings.hpp"

namespace tillwrap::test {

inline const std::string kQuietDay = R"(format = 1
title = "Quiet"
[day]
call = "08:00"
wrap = "12:00"
[[pack]]
labels = ["P1", "P2"]
kind = "smart-pack-14v4-98wh"
[[holder]]
name = "cup"
kind = "cup-smart-14v4"
in = "box"
packs = ["P1", "P2"]
[[box]]
name = "box"
kind = "box-1cup"
[[device]]
name = "recorder"
kind = "recorder-mixer-8"
draw = "8 W"
[[device]]
name = "receiver"
kind = "receiver-dual"
draw = "3 W"
[[wire]]
from = "box.out-1"
to = "recorder.dc"
length = "0.5 m"
wire = "AWG 20"
[[wire]]
from = "box.out-2"
to = "receiver.dc"
length = "0.4 m"
wire = "AWG 20"
[[period]]
name = "scene"
from = "08:00"
air = "20 °C"
)";

using Edits = std::vector<std::pair<std::string, std::string>>;

inline std::string edited(std::string text, const Edits& edits) {
  for (const auto& [before, after] : edits) {
    const std::size_t at = text.find(before);
    EXPECT_NE(at, std::string::npos) << "the day has no " << before;
    if (at != std::string::npos) text.replace(at, before.size(), after);
  }
  return text;
}

struct Looked {
  app::DayFile file;
  std::vector<findings::Finding> found;

  [[nodiscard]] const findings::Finding* rule(findings::Rule rule) const {
    for (const findings::Finding& finding : found) {
      if (finding.rule == rule) return &finding;
    }
    return nullptr;
  }
};

inline Looked look(const std::string& text) {
  const decode::Document document = decode::read_toml(text, "day.toml");
  Looked out{.file = app::read_day(document, catalogue::builtin()), .found = {}};
  app::apply_measured(out.file);
  out.found = findings::find(out.file.scenario, out.file.inventory, catalogue::builtin());
  return out;
}

}  // namespace tillwrap::test
