#include "references.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <stdexcept>

#include "reference/cvode_day.hpp"
#include "reference/spice_day.hpp"

namespace tillwrap::bench {

namespace {

// Of this program's processor.
double now_s() { return static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

std::string words(const char* format, double a, double b) {
  char text[160];
  std::snprintf(text, sizeof text, format, a, b);
  return text;
}

double call_s(const forecast::WholeDay& day) { return day.model(0).day.call_s; }

struct CvodeDay {
  double lost_s = forecast::kNever;
  long steps = 0;
};

// As WholeDay::run: pieces without must-run devices to off, and none further than the first loss.
CvodeDay cvode_whole(const forecast::WholeDay& day, const std::vector<forecast::ChangePlan>& plans, double until_s,
                     double relative, double absolute) {
  CvodeDay whole;
  double search_s = until_s;
  for (std::size_t p = 0; p < plans.size(); ++p) {
    const double off_s = day.model(p).day.off_s;
    const reference::CvodeRun run = reference::cvode_day(
        day.model(p), plans[p],
        {.relative = relative, .absolute = absolute, .search_until_s = day.pieces()[p].must_run ? search_s : off_s});
    whole.lost_s = std::min(whole.lost_s, run.lost_s);
    search_s = std::max(off_s, std::min(search_s, run.lost_s));
    whole.steps += run.steps;
  }
  return whole;
}

}  // namespace

double tight_loss_s(const forecast::WholeDay& day, const std::vector<forecast::ChangePlan>& plans, double until_s) {
  return cvode_whole(day, plans, until_s, 1e-10, 1e-12).lost_s;
}

Reference by_cvode(const forecast::WholeDay& day, const std::vector<forecast::ChangePlan>& plans, double until_s,
                   double tight_s) {
  Reference best;
  for (const double relative : {1e-2, 3e-3, 1e-3, 3e-4, 1e-4}) {
    for (const double share : {1e-1, 1e-2, 1e-3, 1e-4}) {
      try {
        double quickest_s = 1e9;
        CvodeDay run;
        for (int k = 0; k < 5; ++k) {
          const double start_s = now_s();
          run = cvode_whole(day, plans, until_s, relative, relative * share);
          quickest_s = std::min(quickest_s, now_s() - start_s);
        }
        const double apart = run.lost_s / tight_s - 1.0;
        const double of_duration = (run.lost_s - tight_s) / (tight_s - call_s(day));
        if (!std::isfinite(apart) || std::fabs(of_duration) > kRight) continue;
        if (best.available && quickest_s >= best.seconds_a_day) continue;
        best = {.available = true,
                .setting = words("rtol %g, atol %g", relative, relative * share),
                .lost_s = run.lost_s,
                .apart = of_duration,
                .seconds_a_day = quickest_s,
                .steps = run.steps};
      } catch (const reference::GaveUp&) {
        continue;  // too loose to be integrated at all
      }
    }
  }
  return best;
}

Reference by_spice(const forecast::WholeDay& day, const std::vector<forecast::ChangePlan>& plans, double tight_s) {
  Reference best;
  if (!reference::have_spice()) return best;
  const day::Scenario& main = day.model(0).day;
  const double start_s = main.periods.front().from_s;
  const int last_pack = plans[0].back().pack;
  const double stop_v = main.packs[static_cast<std::size_t>(last_pack)].params.protection.under_v;
  for (const int points : {20, 40}) {
    reference::Deck deck;
    for (std::size_t p = 0; p < plans.size(); ++p) {
      reference::add_day(deck, day.model(p), plans[p], {.curve_points = points, .copper_warms = false},
                         p == 0 ? "" : "_piece" + std::to_string(p));
    }
    for (const double relative : {1e-2, 1e-3}) {
      for (const double trtol : {7.0, 1e3, 1e4, 1e5, 1e6}) {
        try {
          const std::string options = ".options reltol=" + reference::number(relative) +
                                      " trtol=" + reference::number(trtol) + " vntol=1e-3 abstol=1e-4\n";
          double quickest_s = 1e9;
          reference::TimedFall run;
          for (int k = 0; k < (trtol > 100.0 ? 3 : 1); ++k) {
            run = reference::timed_fall(deck, options, "q" + std::to_string(last_pack), stop_v,
                                        tight_s - start_s + 300.0, 3600.0);
            quickest_s = std::min(quickest_s, run.analysis_s);
          }
          const double of_duration = (run.falls_s + start_s - tight_s) / (tight_s - call_s(day));
          if (std::fabs(of_duration) > kRight || (best.available && quickest_s >= best.seconds_a_day)) continue;
          best = {.available = true,
                  .setting = words("reltol %g, trtol %g", relative, trtol) + ", curves in " + std::to_string(points) +
                             " straight lines",
                  .lost_s = run.falls_s + start_s,
                  .apart = of_duration,
                  .seconds_a_day = quickest_s,
                  .steps = run.points};
        } catch (const std::runtime_error&) {
          continue;  // it found no answer at that setting
        }
      }
    }
  }
  return best;
}

}  // namespace tillwrap::bench
