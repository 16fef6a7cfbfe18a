// A day against SUNDIALS CVODE on random wirings and days (fixed seeds): the moment the first must-run device is lost
// within 0.1 % of the time since call, volts within 1 mV a cell above 10 % charge and away from events.
// Two programs of the same rules may settle several switches of one moment in another order (which of two devices at
// their cut-off goes first, a regulator or what hangs on it) and live another day from there. A day is compared up to
// the first switch that differs; how many are cut short so is printed and held below a quarter. TILLWRAP_ALL=1 in the
// environment runs all two hundred; otherwise every fifth, for the time it takes.
#include <gtest/gtest.h>
#include <rapidcheck.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>

#include "forecast/random_day.hpp"
#include "reference/cvode_day.hpp"

namespace tillwrap::forecast {
namespace {

using reference::CvodeRun;

constexpr double kMostApart = 1e-3;
constexpr double kMostApartV = 1e-3;
constexpr double kAway_s = 60.0;  // from any event of either run
constexpr int kDays = 200;
constexpr int kGroups = 4;

test::Kit drawn(int seed) {
  // RapidCheck's generators at full size, from a seed of our own.
  return rc::gen::exec(test::random_kit)(rc::Random(static_cast<std::uint64_t>(seed)), 100).value();
}

struct Compared {
  double lost_apart = 0.0;  // of the time since call
  double worst_v = 0.0;     // a cell
  long samples = 0;
  bool same_loss = true;
  bool cut_short = false;  // compared up to a switch that differs
  bool gave_up = false;
  double cvode_s = 0.0;
};

std::string said(const Event& event) {
  const std::string k = std::to_string(event.index);
  switch (event.kind) {
    case EventKind::change_out:
      return "out " + k;
    case EventKind::change_in:
      return "in " + k;
    case EventKind::device_down:
      return "down " + k;
    case EventKind::pack_off:
      return "pack off " + k;
    case EventKind::fuse_open:
      return "fuse " + k;
    case EventKind::input_switched:
      return "input " + k + " to " + std::to_string(static_cast<int>(event.volts));
    case EventKind::regulator_down:
      return "regulator " + k + " down";
    case EventKind::regulator_up:
      return "regulator " + k + " up";
    case EventKind::cell_reversed:
      return "reversed " + k;
    default:
      return "";
  }
}

using Switchings = std::vector<std::pair<double, std::string>>;

// In order of time; what falls into one second in order of name.
Switchings ordered(Switchings all) {
  std::stable_sort(all.begin(), all.end());
  for (std::size_t k = 1; k < all.size(); ++k) {
    for (std::size_t i = k; i > 0 && all[i].first - all[i - 1].first < 1.0 && all[i].second < all[i - 1].second; --i)
      std::swap(all[i], all[i - 1]);
  }
  return all;
}

// The first switching that only one of the two made.
double show_difference(const DayRun& run, const CvodeRun& reference, bool talk) {
  Switchings a;
  for (const Event& event : run.events) {
    if (!said(event).empty()) a.emplace_back(event.at_s, said(event));
  }
  Switchings b;
  for (const reference::CvodeEvent& event : reference.events) {
    if (event.what.substr(0, 3) != "up ") b.emplace_back(event.at_s, event.what);
  }
  a = ordered(a);
  b = ordered(b);
  for (std::size_t k = 0; k < std::max(a.size(), b.size()); ++k) {
    const std::pair<double, std::string> none{0.0, "nothing"};
    const auto& ours = k < a.size() ? a[k] : none;
    const auto& theirs = k < b.size() ? b[k] : none;
    if (ours.second == theirs.second && std::fabs(ours.first - theirs.first) < 20.0) continue;
    if (talk) {
      std::printf("             ours %.3f s %s; CVODE %.3f s %s\n", ours.first, ours.second.c_str(), theirs.first,
                  theirs.second.c_str());
    }
    return std::min(k < a.size() ? ours.first : kNever, k < b.size() ? theirs.first : kNever);
  }
  return kNever;
}

Compared compare(const day::Scenario& day, const std::string& name, bool talk) {
  const Model model(day);
  const double until_s = day.off_s;  // switches are known up to there
  const ChangePlan plan = plan_changes(model, until_s);
  const DayRun run = run_day(model, plan, {.search_until_s = until_s, .trace = true});
  std::vector<double> sample_s = run.trace.at_s;
  sample_s.erase(std::unique(sample_s.begin(), sample_s.end()), sample_s.end());
  const auto before = std::chrono::steady_clock::now();
  Compared c;
  CvodeRun reference;
  try {
    reference = reference::cvode_day(model, plan, {.search_until_s = until_s, .sample_s = sample_s});
  } catch (const reference::GaveUp&) {
    c.gave_up = true;
    return c;
  }
  const double differs_s = show_difference(run, reference, false);
  const double compared_s = differs_s - kAway_s;
  c.cvode_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - before).count();
  EXPECT_EQ(reference.unsettled, 0) << name;
  EXPECT_EQ(run.unsolved, 0) << name;
  c.cut_short = differs_s < std::min(reference.lost_s, run.first_loss.at_s);
  if (c.cut_short) {
    // lost later than the first difference: not comparable
  } else if (std::isfinite(reference.lost_s) != std::isfinite(run.first_loss.at_s)) {
    c.same_loss = false;
  } else if (std::isfinite(reference.lost_s)) {
    const double lasts_s = std::max(reference.lost_s - day.call_s, 1.0);
    c.lost_apart = std::fabs(run.first_loss.at_s - reference.lost_s) / lasts_s;
  }
  std::vector<double> events;
  for (const Event& event : run.events) events.push_back(event.at_s);
  for (const reference::CvodeEvent& event : reference.events) events.push_back(event.at_s);
  events.push_back(run.first_loss.at_s);
  std::sort(events.begin(), events.end());
  double worst_at_s = 0.0;
  std::size_t row = 0;
  for (const reference::CvodeSample& sample : reference.samples) {
    while (row < run.trace.at_s.size() && run.trace.at_s[row] < sample.at_s - 1e-6) ++row;
    if (row == run.trace.at_s.size() || run.trace.at_s[row] > sample.at_s + 1e-6) continue;
    if (sample.at_s > compared_s) break;
    const auto next = std::lower_bound(events.begin(), events.end(), sample.at_s - kAway_s);
    if (next != events.end() && *next <= sample.at_s + kAway_s) continue;
    for (std::size_t h = 0; h < day.holders.size(); ++h) {
      const int pack = run.trace.holder_pack[h][row];
      if (pack < 0 || sample.charge[h] < 0.1) continue;
      const double apart = std::fabs(sample.holder_v[h] - run.trace.holder_v[h][row]) /
                           day.packs[static_cast<std::size_t>(pack)].params.series;
      ++c.samples;
      if (apart > c.worst_v) {
        c.worst_v = apart;
        worst_at_s = sample.at_s;
      }
    }
  }
  if (talk || c.lost_apart > kMostApart || c.worst_v > kMostApartV || !c.same_loss) {
    std::printf(
        "[ %-8s ] lost: ours %.2f s (%d), CVODE %.2f s (%d); worst %.3f mV at %.0f s of %ld; %.2f s, %ld steps, %ld "
        "solves, %ld newton, %ld unsettled; ours %ld steps\n",
        name.c_str(), run.first_loss.at_s, run.first_loss.device, reference.lost_s, reference.lost_device,
        1e3 * c.worst_v, worst_at_s, c.samples, c.cvode_s, reference.steps, reference.solves, reference.newton,
        reference.unsettled, run.steps);
    show_difference(run, reference, true);
  }
  return c;
}

class RandomDays : public testing::TestWithParam<int> {};

TEST_P(RandomDays, AgreeWithCvode) {
  const bool all = std::getenv("TILLWRAP_ALL") != nullptr;
  std::vector<double> lost;
  std::vector<double> volts;
  int days = 0;
  int short_days = 0;
  for (int seed = GetParam(); seed < kDays; seed += kGroups * (all ? 1 : 5)) {
    const test::Kit kit = drawn(seed);
    const Compared c = compare(kit.day, "day " + std::to_string(seed), false);
    ++days;
    if (c.gave_up || c.cut_short) ++short_days;
    if (c.gave_up) continue;
    EXPECT_TRUE(c.same_loss) << seed;
    EXPECT_LE(c.lost_apart, kMostApart) << "day " << seed;
    EXPECT_LE(c.worst_v, kMostApartV) << "day " << seed;
    if (!c.cut_short) lost.push_back(c.lost_apart);
    if (c.samples > 0) volts.push_back(c.worst_v);
  }
  EXPECT_LE(4 * short_days, days);
  std::printf("[ days     ] %d, of which %d compared up to a switch that differs\n", days, short_days);
  const auto at_share = [](std::vector<double>& x, double share) {
    std::sort(x.begin(), x.end());
    return x.empty() ? 0.0 : x[static_cast<std::size_t>(share * static_cast<double>(x.size() - 1))];
  };
  std::printf(
      "[ apart    ] loss: worst %.4f %%, 95 %% of days %.4f %%, median %.5f %%; volts a cell: worst %.3f mV, 95 %% "
      "%.3f mV, median %.4f mV\n",
      100 * at_share(lost, 1.0), 100 * at_share(lost, 0.95), 100 * at_share(lost, 0.5), 1e3 * at_share(volts, 1.0),
      1e3 * at_share(volts, 0.95), 1e3 * at_share(volts, 0.5));
}

INSTANTIATE_TEST_SUITE_P(Groups, RandomDays, testing::Range(0, kGroups));

}  // namespace
}  // namespace tillwrap::forecast
