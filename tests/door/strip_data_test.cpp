// The strip's curves against every row of the trace they are drawn from: nothing is left out that could be seen.
#include "door/strip_data.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "app/measured.hpp"
#include "catalogue/catalogue.hpp"
#include "forecast/forecast.hpp"

namespace tillwrap::door {
namespace {

using Json = app::Json;

app::DayFile day_of(const std::string& path) {
  std::ifstream file(std::string(TILLWRAP_SOURCE_DIR) + "/" + path);
  std::stringstream all;
  all << file.rdbuf();
  app::DayFile read = app::read_day(decode::read_toml(all.str(), path), catalogue::builtin());
  app::apply_measured(read);
  return read;
}

// On the straight line between the two points around it.
double drawn(const std::vector<double>& curves, const Json& where, double at_s) {
  const std::size_t from = where["from"], pairs = where["pairs"];
  std::size_t k = from + 2;
  while (k + 2 < from + 2 * pairs && curves[k] < at_s) k += 2;
  const double share = (at_s - curves[k - 2]) / (curves[k] - curves[k - 2]);
  return curves[k - 1] + share * (curves[k + 1] - curves[k - 1]);
}

class StripCurves : public ::testing::TestWithParam<const char*> {};

TEST_P(StripCurves, PassEveryRowOfTheTraceWithinAThirdOfAPoint) {
  const app::DayFile file = day_of(GetParam());
  const day::Scenario& day = file.scenario;
  const forecast::Forecast answer = forecast::forecast(day, {.trace = true, .with_one_loss = false});
  std::vector<double> curves;
  const Json strip = strip_json({.file = &file, .forecast = &answer}, curves);
  const forecast::Trace& trace = answer.run.trace;
  double largest_j = 1.0;
  for (const forecast::Stint& stint : answer.run.stints)
    if (day.holders[static_cast<std::size_t>(stint.holder)].charger_supply < 0)
      largest_j = std::max(largest_j, cell::energy_left_j(day.packs[static_cast<std::size_t>(stint.pack)].params, 1.0));
  int rows = 0;
  for (const Json& column : strip["columns"]) {
    const std::size_t h = column["index"];
    for (const Json& stint : column["stints"]) {
      if (stint["wedge"]["pairs"].get<int>() < 2) continue;
      const auto& params = day.packs[stint["index"].get<std::size_t>()].params;
      for (std::size_t row = 0; row < trace.at_s.size(); ++row) {
        const double t = trace.at_s[row];
        if (t < stint["in_s"] || t > stint["out_s"] || trace.holder_pack[h][row] != stint["index"]) continue;
        const double share = cell::energy_left_j(params, trace.holder_charge[h][row]) / largest_j;
        // A minute of the largest load besides: rows closer than that are not looked at.
        EXPECT_NEAR(drawn(curves, stint["wedge"], t), share, 0.002 + 60.0 * 200.0 / largest_j)
            << column["holder"] << " at " << t;
        ++rows;
      }
    }
  }
  EXPECT_GT(rows, 100);
  if (strip["volts"].is_null()) return;
  const auto device = std::find_if(day.devices.begin(), day.devices.end(),
                                   [&](const day::Device& d) { return d.name == strip["volts"]["device"]; });
  const auto& volts = trace.device_v[static_cast<std::size_t>(device - day.devices.begin())];
  for (const Json& piece : strip["volts"]["pieces"]) {
    if (piece["pairs"].get<int>() < 2) continue;
    const std::size_t from = piece["from"], last = from + 2 * piece["pairs"].get<std::size_t>() - 2;
    for (std::size_t row = 0; row < trace.at_s.size(); ++row) {
      if (trace.at_s[row] < curves[from] || trace.at_s[row] > curves[last]) continue;
      EXPECT_NEAR(drawn(curves, piece, trace.at_s[row]), volts[row], 0.0151) << "at " << trace.at_s[row];
    }
  }
  // An answer while a finger moves stays small: a point every few minutes of each column would be ten times as many.
  EXPECT_LT(curves.size(), 1000U);
}

INSTANTIATE_TEST_SUITE_P(Examples, StripCurves,
                         ::testing::Values("examples/saltmarsh-ferry.toml", "examples/aa-only.toml",
                                           "examples/news-bag.toml", "examples/bank-on-a-barrel.toml"));

}  // namespace
}  // namespace tillwrap::door
