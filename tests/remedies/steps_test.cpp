// Steps as changes of a day file: copper by the standard's formula, packs that never hurt.
#include <gtest/gtest.h>

#include "app/day_edit.hpp"
#include "app/measured.hpp"
#include "app/remedies.hpp"

namespace tillwrap::app {
namespace {

const char* const kDay = R"(format = 1
[day]
call = "08:00"
wrap = "18:00"
[[pack]]
labels = ["P1", "P2"]
kind = "smart-pack-14v4-98wh"
health = "80 %"
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
draw = "24 W"
[[wire]]
from = "box.out-1"
to = "recorder.dc"
length_m = 3
wire = "AWG 22"
contacts = "worn"
[[period]]
name = "day"
from = "08:00"
air = "20 °C"
)";

struct Steps {
  Steps() : document(decode::read_toml(kDay, "day")), file(read_day(document, catalogue::builtin())) {
    forecast = forecast::forecast(file.scenario, {.with_one_loss = false});
    steps = remedy_steps(remedy_base(document, file, forecast, catalogue::builtin()));
  }
  [[nodiscard]] const RemedyStep& find(const std::string& kind, const std::string& words) const {
    for (const RemedyStep& step : steps) {
      if (step.kind == kind && step.words.find(words) != std::string::npos) return step;
    }
    throw std::runtime_error("no step " + kind + " " + words);
  }
  [[nodiscard]] day::Scenario with(const RemedyStep& step) const {
    return changed_day(document, file, {step.change}, catalogue::builtin()).scenario;
  }
  decode::Document document;
  DayFile file;
  forecast::Forecast forecast;
  std::vector<RemedyStep> steps;
};

double lead_ohm(const day::Scenario& day) {
  for (const day::Lead& lead : day.leads) {
    if (lead.name == "box.out-1 to recorder.dc") return lead.cable_ohm;
  }
  return -1.0;
}

// Ohms a kilometre at 20 °C of a published wire table (secondary source): AWG 22 52.94, AWG 18 20.94; two conductors.
TEST(RemedySteps, CableByTheTable) {
  const Steps all;
  EXPECT_NEAR(lead_ohm(all.file.scenario), 2 * 3.0 * 52.94e-3, 2 * 3.0 * 0.05e-3);
  EXPECT_NEAR(lead_ohm(all.with(all.find("cable", "thicker"))), 2 * 3.0 * 20.94e-3, 2 * 3.0 * 0.05e-3);
  EXPECT_NEAR(lead_ohm(all.with(all.find("cable", "shorter"))), 2 * 1.5 * 52.94e-3, 2 * 1.5 * 0.05e-3);
}

TEST(RemedySteps, CleanContactsAreTheCataloguesNewOnes) {
  const Steps all;
  const catalogue::ConnectorKind* plug = catalogue::builtin().connector("round-lock-4");
  const day::Scenario clean = all.with(all.find("contacts", "box.out-1"));
  for (const day::Lead& lead : clean.leads) {
    if (lead.name == "box.out-1 to recorder.dc") {
      EXPECT_DOUBLE_EQ(lead.contact_ohm, 2 * plug->contacts * plug->contact_new_ohm);
    }
  }
}

TEST(RemedySteps, OnePackOfALabelListGetsATableOfItsOwn) {
  const Steps all;
  const day::Scenario newer = all.with(all.find("newer_pack", "P2"));
  ASSERT_EQ(newer.packs.size(), 2U);
  for (const day::Pack& pack : newer.packs) {
    const double before = all.file.scenario.packs.front().params.cell.capacity_as;
    EXPECT_NEAR(pack.params.cell.capacity_as, pack.params.label == "P2" ? before / 0.8 : before, 1e-6 * before);
  }
}

TEST(RemedySteps, AnotherPackNeverHurts) {
  const Steps all;
  int tried = 0;
  for (const RemedyStep& step : all.steps) {
    if (step.kind != "pack") continue;
    ++tried;
    const remedies::Outcome outcome = remedies::measure(all.with(step), {.days = 0});
    EXPECT_GE(outcome.margin_s, all.forecast.margin_s - 1.0) << step.words;
  }
  EXPECT_EQ(tried, 2);  // the cup takes two kinds
}

// A draw measured in the day as it is stays what it is when something else is switched off.
TEST(RemedySteps, MeasuredDrawsAreKept) {
  decode::Document document = decode::read_toml(std::string(kDay) + R"([[measured]]
at = "box"
draw = "30 W"
during = "day"
)",
                                                "day");
  DayFile file = read_day(document, catalogue::builtin());
  apply_measured(file);
  const DayFile changed = changed_day(document, file, {}, catalogue::builtin());
  for (std::size_t d = 0; d < file.scenario.devices.size(); ++d) {
    EXPECT_NE(file.scenario.devices[d].scale, 1.0);
    EXPECT_DOUBLE_EQ(changed.scenario.devices[d].scale, file.scenario.devices[d].scale);
  }
}

}  // namespace
}  // namespace tillwrap::app
