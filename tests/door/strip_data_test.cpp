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

// While a finger moves only the first loss is followed, quiet stretches cruised at four times the error: the picture
// that follows it must not be seen to jump. Against the full stepping of the same day.
TEST_P(StripCurves, OfAQuickAnswerLieOnThoseOfTheFineOne) {
  const app::DayFile file = day_of(GetParam());
  const day::Scenario& day = file.scenario;
  const forecast::Forecast fine = forecast::forecast(day, {.trace = true, .with_one_loss = false});
  const forecast::Forecast quick =
      forecast::forecast(day, {.trace = true, .loss_only = true, .tolerance = 4.0, .with_one_loss = false});
  EXPECT_EQ(quick.run.first_loss.device, fine.run.first_loss.device);
  EXPECT_EQ(quick.run.first_loss.why.holder, fine.run.first_loss.why.holder);
  EXPECT_NEAR(quick.stated_s, fine.stated_s, 0.001 * (fine.stated_s - day.call_s));
  std::vector<double> quick_curves, fine_curves;
  const Json seen = strip_json({.file = &file, .forecast = &quick}, quick_curves);
  const Json whole = strip_json({.file = &file, .forecast = &fine}, fine_curves);
  constexpr double kNear_s = 120.0;
  std::vector<double> jumps_s;
  for (const day::Period& period : day.periods) jumps_s.push_back(period.from_s);
  ASSERT_EQ(seen["columns"].size(), whole["columns"].size());
  for (std::size_t c = 0; c < whole["columns"].size(); ++c) {
    const Json &of_quick = seen["columns"][c]["stints"], &of_fine = whole["columns"][c]["stints"];
    ASSERT_EQ(of_quick.size(), of_fine.size()) << whole["columns"][c]["holder"];
    for (std::size_t k = 0; k < of_fine.size(); ++k) {
      EXPECT_EQ(of_quick[k]["pack"], of_fine[k]["pack"]);
      EXPECT_NEAR(of_quick[k]["in_s"], of_fine[k]["in_s"], kNear_s);
      EXPECT_NEAR(of_quick[k]["end_charge"], of_fine[k]["end_charge"], 0.01) << of_fine[k]["pack"];
      jumps_s.push_back(of_fine[k]["in_s"]);
      jumps_s.push_back(of_fine[k]["out_s"]);
    }
  }
  if (whole["volts"].is_null()) return;
  double end_s = std::min(seen["end_s"].get<double>(), whole["end_s"].get<double>());
  // What it has at its input once it went off is not followed.
  const int lost = fine.run.first_loss.device;
  if (lost >= 0 && day.devices[static_cast<std::size_t>(lost)].name == whole["volts"]["device"])
    end_s = std::min({end_s, quick.stated_s, fine.stated_s});
  const auto volts = [](const Json& strip, const std::vector<double>& curves, double at_s) {
    for (const Json& piece : strip["volts"]["pieces"]) {
      const std::size_t from = piece["from"], last = from + 2 * piece["pairs"].get<std::size_t>() - 2;
      if (last > from && at_s >= curves[from] && at_s <= curves[last]) return drawn(curves, piece, at_s);
    }
    return 0.0;
  };
  int compared = 0;
  for (double at_s = day.call_s; at_s < end_s; at_s += 300.0) {
    if (std::any_of(jumps_s.begin(), jumps_s.end(), [&](double jump) { return std::fabs(jump - at_s) < kNear_s; }))
      continue;
    EXPECT_NEAR(volts(seen, quick_curves, at_s), volts(whole, fine_curves, at_s), 0.05) << "at " << at_s;
    ++compared;
  }
  EXPECT_GT(compared, 20);
}

INSTANTIATE_TEST_SUITE_P(Examples, StripCurves,
                         ::testing::Values("examples/saltmarsh-ferry.toml", "examples/aa-only.toml",
                                           "examples/news-bag.toml", "examples/bank-on-a-barrel.toml"));

}  // namespace
}  // namespace tillwrap::door
