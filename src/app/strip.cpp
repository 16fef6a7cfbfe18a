#include "app/strip.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "app/words.hpp"
#include "day/scenario.hpp"

namespace tillwrap::app {

namespace {

using drawing::Anchor;
using drawing::Colour;
using drawing::Fill;
using drawing::Picture;
using drawing::Point;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

constexpr double kHoursX = 18.0;
constexpr double kPeriodX = 62.0;
constexpr double kPeriodWidth = 132.0;
constexpr double kWide = 132.0;
constexpr double kNarrow = 40.0;
constexpr double kVoltsWidth = 116.0;
constexpr double kHeading = 66.0;  // length of a slanted heading, and the most there is room for
constexpr double kMostHeading = 130.0;
constexpr double kHeadingTurn = 32.0 * std::numbers::pi / 180.0;
constexpr double kLeastStep = 1.5;  // vertical distance of drawn points

// Tones that stay apart for colour-blind eyes and in grey; every wedge is labelled as well.
// Luma (ITU-R BT.601) of neighbours: 0.53, 0.80, 0.69, 0.48, 0.89, 0.65.
constexpr Colour kTones[] = {{0x4f97cf}, {0xf0d060}, {0xd79bbd}, {0x3f9a78}, {0xe6e3d8}, {0x98a5d6}};

struct Column {
  int holder;
  double x;
  double width;
  bool wide;
};

class Strip {
 public:
  Strip(const ForecastReport& report, const StripLook& look)
      : report_(report),
        wording_(report.file->inventory.settings),
        look_(look),
        day_(report.file->scenario),
        f_(*report.forecast),
        run_(f_.run),
        top_(look.head ? 156.0 : 44.0) {
    for (const day::Holder& holder : day_.holders) {
      if (holder.charger_supply >= 0 || holder.slots.empty() || holder.built_in) continue;
      heading_ = std::max(heading_, std::min(kMostHeading, drawing::text_width(holder.name, 11.0)));
    }
    top_ += (heading_ - kHeading) * std::sin(kHeadingTurn);
    start_s_ = day_.periods.front().from_s;
    const double last_s = f_.margin_is_least ? day_.off_s + 1800.0 : std::max(f_.likely_s + 900.0, day_.off_s + 900.0);
    end_s_ = std::min(last_s, day_.off_s + day_.overrun_s + 5400.0);
    per_hour_ = look.height > 0.0 ? (look.height - top_ - 12.0) / ((end_s_ - start_s_) / 3600.0) : look.per_hour;
    for (const forecast::Stint& stint : run_.stints) {
      if (day_.holders[at(stint.holder)].charger_supply < 0) {
        largest_j_ = std::max(largest_j_, cell::energy_left_j(day_.packs[at(stint.pack)].params, 1.0));
      }
    }
  }

  Picture draw() {
    place_columns();
    out_.width = width_;
    out_.height = look_.height > 0.0 ? look_.height : y(end_s_) + 40.0;
    if (!(look_.paper == drawing::kPaper)) out_.box({0.0, 0.0}, out_.width, out_.height, 0.0, Fill::plain, look_.paper);
    if (look_.head) head();
    periods();
    for (const Column& column : columns_) holder(column);
    volts();
    out_.line({kHoursX, y(day_.off_s)}, {width_ - 12.0, y(day_.off_s)}, 2.0);
    out_.text({width_ - 14.0, y(day_.off_s) - 5.0}, "off " + wording_.clock(day_.off_s), 12.0, true, Anchor::end);
    return std::move(out_);
  }

 private:
  [[nodiscard]] double y(double at_s) const { return top_ + (at_s - start_s_) / 3600.0 * per_hour_; }

  void place_columns() {
    double x = kPeriodX + kPeriodWidth + 18.0;
    for (const bool wide : {true, false}) {
      for (int h = 0; h < static_cast<int>(day_.holders.size()); ++h) {
        const day::Holder& holder = day_.holders[at(h)];
        if (holder.charger_supply >= 0 || holder.slots.empty() || holder.built_in) continue;
        const double most_j = cell::energy_left_j(day_.packs[at(holder.slots.front().pack)].params, 1.0);
        if ((most_j > 0.4 * largest_j_) != wide) continue;
        columns_.push_back({h, x, wide ? kWide : kNarrow, wide});
        x += (wide ? kWide : kNarrow) + 6.0;
      }
      if (wide) {  // volts stand beside what feeds them
        volts_x_ = x + 6.0;
        x += kVoltsWidth + 16.0;
      }
    }
    width_ = std::max(x + 74.0 + (heading_ - kHeading) * std::cos(kHeadingTurn), 620.0);
  }

  void head() {
    out_.text({kHoursX, 30.0}, day_.title, 14.0);
    out_.text({kHoursX, 62.0},
              f_.margin_is_least ? "Lasts past " + wording_.clock(day_.off_s)
                                 : "Safe to " + wording_.clock(std::max(f_.safe_s, day_.call_s)),
              28.0, true);
    out_.text({kHoursX, 84.0},
              f_.margin_is_least
                  ? "nothing fails that was looked for"
                  : fmt::format("likely {}, off {}", wording_.clock(f_.likely_s), wording_.clock(day_.off_s)),
              14.0);
    out_.text({kHoursX, 104.0}, one_loss_words(report_, wording_), 14.0);
  }

  void periods() {
    for (double hour = std::ceil(start_s_ / 3600.0); hour * 3600.0 <= end_s_; hour += 1.0) {
      out_.text({kHoursX + 26.0, y(hour * 3600.0) + 4.0}, wording_.hour(hour * 3600.0), 12.0, false, Anchor::end,
                drawing::kGreyInk);
      out_.line({kHoursX + 30.0, y(hour * 3600.0)}, {kHoursX + 38.0, y(hour * 3600.0)}, 0.8, {}, drawing::kGreyInk);
    }
    for (const day::Period& period : day_.periods) {
      const double until_s = &period == &day_.periods.back() ? std::min(period.until_s, end_s_) : period.until_s;
      const double top = y(period.from_s);
      const double tall = y(until_s) - top;
      out_.box({kPeriodX, top + 1.0}, kPeriodWidth, std::max(tall - 2.0, 2.0), 0.0, Fill::plain, {0xe3ddd0});
      if (tall < 11.0) continue;
      const bool with_air = tall > 32.0;
      const double size = std::min(12.0, 0.9 * tall);
      const std::string air = wording_.temperature(period.air_k);
      const double room = kPeriodWidth - 12.0 - (with_air ? 0.0 : drawing::text_width(air, size) + 6.0);
      // A long name takes a second line where the period has one to spare.
      std::vector<std::string> name = drawing::wrapped(period.name, room, size);
      const bool two_lines = name.size() > 1 && tall > 48.0;
      if (two_lines) {
        const std::size_t rest = period.name.find(name[1], name[0].size());
        name[1] = drawing::fitted(period.name.substr(std::min(rest, period.name.size())), room, size);
        out_.text({kPeriodX + 6.0, top + 28.0}, name[1], size);
      }
      out_.text({kPeriodX + 6.0, top + std::min(14.0, 0.5 * tall + 4.0)},
                two_lines ? name[0] : drawing::fitted(period.name, room, size), size);
      if (with_air) {
        out_.text({kPeriodX + 6.0, top + (two_lines ? 43.0 : 29.0)}, air, 12.0, false, Anchor::start,
                  drawing::kGreyInk);
      } else {
        out_.text({kPeriodX + kPeriodWidth - 6.0, top + std::min(14.0, 0.5 * tall + 4.0)}, air, size, false,
                  Anchor::end, drawing::kGreyInk);
      }
    }
    if (end_s_ > day_.off_s + 600.0) {
      out_.box({kPeriodX, y(day_.off_s) + 2.0}, kPeriodWidth, y(end_s_) - y(day_.off_s) - 4.0, 0.8, Fill::none,
               drawing::kPaper, {3.0, 3.0}, drawing::kGreyInk);
      out_.text({kPeriodX + 6.0, y(day_.off_s) + 16.0}, "if late", 12.0);
    }
  }

  void holder(const Column& column) {
    const day::Holder& holder = day_.holders[at(column.holder)];
    const double middle = column.x + column.width / 2.0;
    if (column.wide) {
      out_.text({middle, top_ - 10.0}, drawing::fitted(holder.name, column.width, 12.0), 12.0, false, Anchor::middle);
    } else {
      out_.turned({middle - 3.0, top_ - 6.0}, drawing::fitted(holder.name, heading_ + 0.01, 11.0), 11.0,
                  -kHeadingTurn * 180.0 / std::numbers::pi);
    }
    for (const day::NoHands& stretch : day_.no_hands) {
      if (stretch.place != holder.place) continue;
      const double top = y(std::max(stretch.from_s, start_s_));
      const double bottom = y(std::min(stretch.until_s, end_s_));
      if (bottom > top) out_.box({column.x, top}, column.width, bottom - top, 0.0, Fill::hatch);
    }
    // Wedges: one a stint, half as wide on each side as the energy left.
    const auto& times = run_.trace.at_s;
    const auto& packs = run_.trace.holder_pack[at(column.holder)];
    const auto& charges = run_.trace.holder_charge[at(column.holder)];
    double scale_j = largest_j_;
    if (!column.wide) {
      scale_j = 0.0;
      for (const day::Slot& slot : holder.slots)
        scale_j = std::max(scale_j, cell::energy_left_j(day_.packs[at(slot.pack)].params, 1.0));
    }
    std::size_t row = 0;
    while (row < times.size()) {
      if (packs[row] < 0 || times[row] > end_s_) {
        ++row;
        continue;
      }
      const int pack = packs[row];
      std::vector<Point> left;
      std::vector<Point> right;
      const std::size_t first = row;
      double drawn_y = 0.0;
      for (; row < times.size() && packs[row] == pack && times[row] <= end_s_; ++row) {
        const bool end = row + 1 == times.size() || packs[row + 1] != pack;
        if (row > first && !end && y(times[row]) - drawn_y < kLeastStep) continue;
        drawn_y = y(times[row]);
        const double half =
            0.5 * column.width *
            std::clamp(cell::energy_left_j(day_.packs[at(pack)].params, charges[row]) / scale_j, 0.0, 1.0);
        left.push_back({middle - half, drawn_y});
        right.push_back({middle + half, drawn_y});
      }
      const std::size_t last = row - 1;
      left.insert(left.end(), right.rbegin(), right.rend());
      out_.shape({.points = std::move(left),
                  .closed = true,
                  .fill = Fill::plain,
                  .fill_colour = kTones[at(pack) % std::size(kTones)],
                  .stroke = 0.8});
      const std::string& label = day_.packs[at(pack)].params.label;
      if (column.wide) {
        if (y(times[last]) - y(times[first]) > 16.0)
          out_.text({middle, y(times[first]) + 15.0}, drawing::fitted(label, column.width, 12.0, true), 12.0, true,
                    Anchor::middle);
      } else if (y(times[last]) - y(times[first]) > 24.0) {
        out_.turned({middle - 4.0, y(times[first]) + 5.0},
                    drawing::fitted(label, y(times[last]) - y(times[first]) - 8.0, 11.0), 11.0, 90.0);
      }
      if (row < times.size() && times[row] <= end_s_ && column.wide) {
        const double back_wh = cell::energy_left_j(day_.packs[at(pack)].params, charges[last]) / 3600.0;
        out_.circle({.centre = {column.x - 6.0, y(times[last])},
                     .radius = 4.0,
                     .filled = true,
                     .fill_colour = look_.paper,
                     .stroke = 1.4});
        out_.line({column.x - 2.0, y(times[last])}, {column.x + column.width, y(times[last])}, 1.0);
        out_.text({column.x + column.width, y(times[last]) - 4.0}, fmt::format("{:.0f} Wh back", back_wh), 11.0, false,
                  Anchor::end);
      }
    }
    // The doubtful end of what fails first.
    if (!f_.margin_is_least && run_.first_loss.why.holder == column.holder && f_.safe_s < f_.likely_s) {
      const double top = y(std::clamp(f_.safe_s, start_s_, end_s_));
      const double bottom = y(std::min(f_.likely_s, end_s_));
      out_.shape(
          {.points = {{middle - 0.22 * column.width, top}, {middle + 0.22 * column.width, top}, {middle, bottom}},
           .closed = true,
           .fill = Fill::doubt});
    }
  }

  // Volts at the recorder (or the first must-run device), with its cut-off.
  void volts() {
    int shown = -1;
    for (std::size_t d = 0; d < day_.devices.size() && shown < 0; ++d) {
      if (day_.devices[d].need == day::Need::unbroken) shown = static_cast<int>(d);
    }
    for (std::size_t d = 0; d < day_.devices.size() && shown < 0; ++d) {
      if (day_.devices[d].need == day::Need::rolling) shown = static_cast<int>(d);
    }
    if (shown < 0 || run_.trace.at_s.empty()) return;
    const day::Device& device = day_.devices[at(shown)];
    const auto& values = run_.trace.device_v[at(shown)];
    const double cutoff_v = device.inputs.empty() ? device.cutoff_v : device.inputs.front().cutoff_v;
    double low_v = cutoff_v;
    double high_v = low_v + 0.5;
    for (std::size_t row = 0; row < values.size(); ++row) {
      if (run_.trace.at_s[row] <= end_s_ && values[row] > 0.5) {
        low_v = std::min(low_v, values[row]);
        high_v = std::max(high_v, values[row]);
      }
    }
    const auto x = [&](double v) { return volts_x_ + 8.0 + (kVoltsWidth - 16.0) * (v - low_v) / (high_v - low_v); };
    out_.text({volts_x_, top_ - 24.0}, drawing::fitted(device.name, 66.0, 12.0) + " volts", 12.0);
    out_.text({volts_x_, top_ - 10.0}, fmt::format("{:.1f} to {:.1f}, cuts {:.1f}", low_v, high_v, cutoff_v), 10.0);
    out_.line({x(cutoff_v), top_}, {x(cutoff_v), y(end_s_)}, 1.0, {3.0, 3.0});
    std::vector<Point> curve;
    const auto flush = [&] {
      if (curve.size() > 1) out_.shape({.points = curve, .stroke = 1.6});
      curve.clear();
    };
    double drawn_v = 0.0;
    for (std::size_t row = 0; row < values.size(); ++row) {
      if (run_.trace.at_s[row] > end_s_) break;
      if (values[row] <= 0.5) {
        flush();
        continue;
      }
      const double at_y = y(run_.trace.at_s[row]);
      if (!curve.empty() && at_y - curve.back().y < kLeastStep && std::fabs(values[row] - drawn_v) < 0.05) continue;
      drawn_v = values[row];
      curve.push_back({x(values[row]), at_y});
    }
    flush();
  }

  const ForecastReport& report_;
  const Wording wording_;
  const StripLook look_;
  const day::Scenario& day_;
  const forecast::Forecast& f_;
  const forecast::DayRun& run_;
  Picture out_;
  double heading_ = kHeading;  // of the narrow columns, as long as the longest
  double top_ = 0.0;
  double per_hour_ = 62.0;
  double start_s_ = 0.0;
  double end_s_ = 0.0;
  double largest_j_ = 1.0;
  double volts_x_ = 0.0;
  double width_ = 0.0;
  std::vector<Column> columns_;
};

}  // namespace

drawing::Picture strip(const ForecastReport& report, const StripLook& look) { return Strip(report, look).draw(); }

std::string strip_svg(const ForecastReport& report) {
  return drawing::svg(strip(report, {}), report.file->scenario.title);
}

}  // namespace tillwrap::app
