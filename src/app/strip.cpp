#include "app/strip.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
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
constexpr std::size_t kSlantedLines = 2;
constexpr std::size_t kUprightLines = 3;
constexpr double kSlantedLine = 11.5;  // line to line
constexpr double kUprightLine = 13.0;
constexpr double kLeastStep = 1.5;  // vertical distance of drawn points

// Tones that stay apart for colour-blind eyes and in grey; every wedge is labelled as well.
// Luma (ITU-R BT.601) of neighbours: 0.53, 0.80, 0.69, 0.48, 0.89, 0.65.
constexpr Colour kTones[] = {{0x4f97cf}, {0xf0d060}, {0xd79bbd}, {0x3f9a78}, {0xe6e3d8}, {0x98a5d6}};

// A name over at most so many lines; the last ends in an ellipsis where that is not enough.
std::vector<std::string> over_lines(const std::string& name, double width, double size, std::size_t most) {
  std::vector<std::string> lines = drawing::wrapped(name, width, size);
  if (lines.size() <= most) return lines;
  lines.resize(most);
  std::size_t rest = 0;
  for (std::size_t k = 0; k + 1 < most; ++k) rest = name.find(lines[k], rest) + lines[k].size();
  rest = std::min(name.find_first_not_of(' ', rest), name.size());
  lines.back() = drawing::fitted(name.substr(rest), width, size);
  return lines;
}

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
    start_s_ = day_.periods.front().from_s;
    const double last_s = f_.margin_is_least ? day_.off_s + 1800.0 : std::max(f_.stated_s + 900.0, day_.off_s + 900.0);
    end_s_ = std::min(last_s, day_.off_s + day_.overrun_s + 5400.0);
    for (const forecast::Stint& stint : run_.stints) {
      if (day_.holders[at(stint.holder)].charger_supply < 0) {
        largest_j_ = std::max(largest_j_, cell::energy_left_j(day_.packs[at(stint.pack)].params, 1.0));
      }
    }
    find_shown_device();
    make_room_for_headings();
    per_hour_ = look.height > 0.0 ? (look.height - top_ - 12.0) / ((end_s_ - start_s_) / 3600.0) : look.per_hour;
  }

  StripOfDay draw() {
    place_columns();
    out_.width = width_;
    out_.height = look_.height > 0.0 ? look_.height : y(end_s_) + 40.0;
    if (look_.head) head();
    periods();
    for (const Column& column : columns_) holder(column);
    volts();
    out_.line({kHoursX, y(day_.off_s)}, {width_ - 12.0, y(day_.off_s)}, 2.0);
    out_.text({width_ - 14.0, y(day_.off_s) - 5.0}, "off " + wording_.clock(day_.off_s), 12.0, true, Anchor::end);
    if (look_.names_below && !shortened_.empty()) names_below();
    if (look_.paper == drawing::kPaper) return {std::move(out_), std::move(shortened_)};
    Picture framed{.width = out_.width, .height = out_.height};
    framed.box({0.0, 0.0}, out_.width, out_.height, 0.0, Fill::plain, look_.paper);
    std::move(out_.items.begin(), out_.items.end(), std::back_inserter(framed.items));
    return {std::move(framed), std::move(shortened_)};
  }

 private:
  [[nodiscard]] bool drawn(const day::Holder& holder) const {
    return holder.charger_supply < 0 && !holder.slots.empty() && !holder.built_in;
  }
  [[nodiscard]] bool wide(const day::Holder& holder) const {
    return cell::energy_left_j(day_.packs[at(holder.slots.front().pack)].params, 1.0) > 0.4 * largest_j_;
  }
  [[nodiscard]] std::string volts_heading() const { return day_.devices[at(shown_)].name + " volts"; }

  // The recorder, or the first must-run device.
  void find_shown_device() {
    for (const day::Need need : {day::Need::unbroken, day::Need::rolling}) {
      for (std::size_t d = 0; d < day_.devices.size() && shown_ < 0; ++d) {
        if (day_.devices[d].need == need) shown_ = static_cast<int>(d);
      }
    }
    if (run_.trace.at_s.empty()) shown_ = -1;
  }

  // Long names take more lines, and those move the hours down.
  void make_room_for_headings() {
    std::size_t slanted = 1;
    double upright = 0.0;
    for (const day::Holder& holder : day_.holders) {
      if (!drawn(holder)) continue;
      if (wide(holder)) {
        const std::size_t lines = over_lines(holder.name, kWide, 12.0, kUprightLines).size();
        upright = std::max(upright, kUprightLine * static_cast<double>(lines));
        continue;
      }
      const std::vector<std::string> lines = over_lines(holder.name, kMostHeading, 11.0, kSlantedLines);
      slanted = std::max(slanted, lines.size());
      for (const std::string& line : lines) heading_ = std::max(heading_, drawing::text_width(line, 11.0));
    }
    if (shown_ >= 0) {
      const std::size_t lines = over_lines(volts_heading(), kVoltsWidth, 12.0, kUprightLines).size();
      upright = std::max(upright, 14.0 + kUprightLine * static_cast<double>(lines));
    }
    const double above = look_.head ? 112.0 : 0.0;
    top_ += (heading_ - kHeading) * std::sin(kHeadingTurn) + kSlantedLine * static_cast<double>(slanted - 1);
    top_ = std::max(top_, above + upright + 14.0);
  }

  // Over at most `most` lines; remembered where that cuts it short.
  std::vector<std::string> lines_of(const std::string& name, double width, double size, std::size_t most) {
    std::vector<std::string> lines = over_lines(name, width, size, most);
    if (drawing::wrapped(name, width, size).size() > most) note_short(name);
    return lines;
  }
  std::string line_of(const std::string& name, double width, double size, bool bold = false) {
    if (drawing::text_width(name, size, bold) > width) note_short(name);
    return drawing::fitted(name, width, size, bold);
  }
  void note_short(const std::string& name) {
    if (std::find(shortened_.begin(), shortened_.end(), name) == shortened_.end()) shortened_.push_back(name);
  }

  void names_below() {
    double base = out_.height;
    for (const std::string& line : drawing::wrapped(in_full(shortened_), width_ - 2.0 * kHoursX, 12.0)) {
      out_.text({kHoursX, base}, line, 12.0);
      base += 15.0;
    }
    out_.height = base + 6.0;
  }

  [[nodiscard]] double y(double at_s) const { return top_ + (at_s - start_s_) / 3600.0 * per_hour_; }

  void place_columns() {
    double x = kPeriodX + kPeriodWidth + 18.0;
    for (const bool wide : {true, false}) {
      for (int h = 0; h < static_cast<int>(day_.holders.size()); ++h) {
        const day::Holder& holder = day_.holders[at(h)];
        if (!drawn(holder) || this->wide(holder) != wide) continue;
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
      if (tall < 11.0) {
        note_short(period.name);
        continue;
      }
      const bool with_air = tall > 32.0;
      const double size = std::min(12.0, 0.9 * tall);
      const std::string air = wording_.temperature(period.air_k);
      const double room = kPeriodWidth - 12.0 - (with_air ? 0.0 : drawing::text_width(air, size) + 6.0);
      // A long name takes more lines where the period has them to spare.
      const auto most = tall > 48.0 ? static_cast<std::size_t>((tall - 20.0) / 14.0) : std::size_t{1};
      const std::vector<std::string> name = lines_of(period.name, room, size, most);
      const double first = top + std::min(14.0, 0.5 * tall + 4.0);
      for (std::size_t k = 0; k < name.size(); ++k)
        out_.text({kPeriodX + 6.0, first + 14.0 * static_cast<double>(k)}, name[k], size);
      if (with_air) {
        out_.text({kPeriodX + 6.0, first + 1.0 + 14.0 * static_cast<double>(name.size())}, air, 12.0, false,
                  Anchor::start, drawing::kGreyInk);
      } else {
        out_.text({kPeriodX + kPeriodWidth - 6.0, first}, air, size, false, Anchor::end, drawing::kGreyInk);
      }
    }
    if (end_s_ > day_.off_s + 600.0) {
      out_.box({kPeriodX, y(day_.off_s) + 2.0}, kPeriodWidth, y(end_s_) - y(day_.off_s) - 4.0, 0.8, Fill::none,
               drawing::kPaper, {3.0, 3.0}, drawing::kGreyInk);
      out_.text({kPeriodX + 6.0, y(day_.off_s) + 16.0}, "if late", 12.0);
    }
  }

  // The last line on `base`.
  void upright(const std::vector<std::string>& lines, double x, double base, Anchor anchor) {
    for (std::size_t k = 0; k < lines.size(); ++k)
      out_.text({x, base - kUprightLine * static_cast<double>(lines.size() - 1 - k)}, lines[k], 12.0, false, anchor);
  }

  void holder(const Column& column) {
    const day::Holder& holder = day_.holders[at(column.holder)];
    const double middle = column.x + column.width / 2.0;
    if (column.wide) {
      upright(lines_of(holder.name, column.width, 12.0, kUprightLines), middle, top_ - 10.0, Anchor::middle);
    } else {
      const std::vector<std::string> lines = lines_of(holder.name, kMostHeading, 11.0, kSlantedLines);
      for (std::size_t k = 0; k < lines.size(); ++k) {
        const double up = kSlantedLine * static_cast<double>(lines.size() - 1 - k);
        out_.turned({middle - 3.0 - up * std::sin(kHeadingTurn), top_ - 6.0 - up * std::cos(kHeadingTurn)}, lines[k],
                    11.0, -kHeadingTurn * 180.0 / std::numbers::pi);
      }
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
          out_.text({middle, y(times[first]) + 15.0}, line_of(label, column.width, 12.0, true), 12.0, true,
                    Anchor::middle);
      } else if (y(times[last]) - y(times[first]) > 24.0) {
        out_.turned({middle - 4.0, y(times[first]) + 5.0}, line_of(label, y(times[last]) - y(times[first]) - 8.0, 11.0),
                    11.0, 90.0);
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
    if (!f_.margin_is_least && run_.first_loss.why.holder == column.holder && f_.safe_s < f_.stated_s) {
      const double top = y(std::clamp(f_.safe_s, start_s_, end_s_));
      const double bottom = y(std::min(f_.stated_s, end_s_));
      out_.shape(
          {.points = {{middle - 0.22 * column.width, top}, {middle + 0.22 * column.width, top}, {middle, bottom}},
           .closed = true,
           .fill = Fill::doubt});
    }
  }

  // Volts at the shown device, with its cut-off.
  void volts() {
    if (shown_ < 0) return;
    const day::Device& device = day_.devices[at(shown_)];
    const auto& values = run_.trace.device_v[at(shown_)];
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
    upright(lines_of(volts_heading(), kVoltsWidth, 12.0, kUprightLines), volts_x_, top_ - 24.0, Anchor::start);
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
  int shown_ = -1;  // device whose volts are drawn
  std::vector<Column> columns_;
  std::vector<std::string> shortened_;
};

}  // namespace

StripOfDay strip(const ForecastReport& report, const StripLook& look) { return Strip(report, look).draw(); }

std::string in_full(const std::vector<std::string>& shortened) {
  std::string words;
  for (const std::string& name : shortened) words += (words.empty() ? "In full: " : "; ") + name;
  return words.empty() ? words : words + ".";
}

std::string strip_svg(const ForecastReport& report) {
  return drawing::svg(strip(report, {}).picture, report.file->scenario.title);
}

}  // namespace tillwrap::app
