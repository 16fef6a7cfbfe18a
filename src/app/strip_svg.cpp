#include "app/strip_svg.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/words.hpp"
#include "day/scenario.hpp"

namespace tillwrap::app {

namespace {

std::size_t at(int i) { return static_cast<std::size_t>(i); }

constexpr double kTop = 156.0;
constexpr double kPerHour = 62.0;
constexpr double kHoursX = 18.0;
constexpr double kPeriodX = 62.0;
constexpr double kPeriodWidth = 132.0;
constexpr double kWide = 132.0;
constexpr double kNarrow = 40.0;
constexpr double kVoltsWidth = 104.0;
constexpr double kLeastStep = 1.5;  // vertical distance of drawn points

// Tones that stay apart for colour-blind eyes and in grey; every wedge is labelled as well.
constexpr const char* kTones[] = {"#6db7e4", "#e3a52b", "#d08bb0", "#58ad8e", "#b7b2a3", "#8f9fd1"};

std::string escaped(const std::string& text) {
  std::string out;
  for (const char c : text) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      default:
        out += c;
    }
  }
  return out;
}

std::string text_at(double x, double y, const std::string& words, const std::string& style = "") {
  return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\"{}>{}</text>\n", x, y, style.empty() ? "" : " " + style,
                     escaped(words));
}

struct Column {
  int holder;
  double x;
  double width;
  bool wide;
};

class Strip {
 public:
  explicit Strip(const ForecastReport& report)
      : report_(report), day_(report.file->scenario), f_(*report.forecast), run_(f_.run) {
    start_s_ = day_.periods.front().from_s;
    const double last_s = f_.margin_is_least ? day_.off_s + 1800.0 : std::max(f_.likely_s + 900.0, day_.off_s + 900.0);
    end_s_ = std::min(last_s, day_.off_s + day_.overrun_s + 5400.0);
    for (const forecast::Stint& stint : run_.stints) {
      if (day_.holders[at(stint.holder)].charger_supply < 0) {
        largest_j_ = std::max(largest_j_, cell::energy_left_j(day_.packs[at(stint.pack)].params, 1.0));
      }
    }
  }

  std::string draw() {
    place_columns();
    const double height = y(end_s_) + 40.0;
    std::string out = fmt::format(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0:.0f} {1:.0f}\" width=\"{0:.0f}\" "
        "height=\"{1:.0f}\" "
        "font-family=\"DejaVu Sans, Arial, sans-serif\" font-size=\"12\" fill=\"#14120f\">\n"
        "<defs><pattern id=\"closed\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" "
        "patternTransform=\"rotate(45)\">"
        "<line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"7\" stroke=\"#14120f\" stroke-opacity=\"0.32\" "
        "stroke-width=\"1\"/></pattern>"
        "<pattern id=\"doubt\" width=\"5\" height=\"5\" patternUnits=\"userSpaceOnUse\" "
        "patternTransform=\"rotate(-45)\">"
        "<line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"5\" stroke=\"#14120f\" stroke-width=\"1.4\"/></pattern></defs>\n"
        "<rect width=\"{0:.0f}\" height=\"{1:.0f}\" fill=\"#f7f3ea\"/>\n",
        width_, height);
    out += head();
    out += periods();
    for (const Column& column : columns_) out += holder(column);
    out += volts();
    out += fmt::format(
        "<line x1=\"{:.1f}\" x2=\"{:.1f}\" y1=\"{:.1f}\" y2=\"{:.1f}\" stroke=\"#14120f\" stroke-width=\"2\"/>\n",
        kHoursX, width_ - 12.0, y(day_.off_s), y(day_.off_s));
    out += text_at(width_ - 14.0, y(day_.off_s) - 5.0, "off " + clock_words(day_.off_s),
                   "text-anchor=\"end\" font-weight=\"700\"");
    return out + "</svg>\n";
  }

 private:
  [[nodiscard]] double y(double at_s) const { return kTop + (at_s - start_s_) / 3600.0 * kPerHour; }

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
    width_ = std::max(x + 74.0, 620.0);
  }

  std::string head() const {
    std::string out = text_at(kHoursX, 30.0, day_.title, "font-size=\"14\"");
    const std::string big = f_.margin_is_least ? "Lasts past " + clock_words(day_.off_s)
                                               : "Safe to " + clock_words(std::max(f_.safe_s, day_.call_s));
    out += text_at(kHoursX, 62.0, big, "font-size=\"28\" font-weight=\"700\"");
    out += text_at(kHoursX, 84.0,
                   f_.margin_is_least
                       ? "nothing fails that was looked for"
                       : fmt::format("likely {}, off {}", clock_words(f_.likely_s), clock_words(day_.off_s)),
                   "font-size=\"14\"");
    out += text_at(kHoursX, 104.0, one_loss_words(report_), "font-size=\"14\"");
    return out;
  }

  std::string periods() const {
    std::string out;
    for (double hour = std::ceil(start_s_ / 3600.0); hour * 3600.0 <= end_s_; hour += 1.0) {
      out += text_at(kHoursX + 26.0, y(hour * 3600.0) + 4.0, clock_words(hour * 3600.0).substr(0, 2),
                     "text-anchor=\"end\" fill=\"#5a5448\"");
      out += fmt::format(
          "<line x1=\"{:.1f}\" x2=\"{:.1f}\" y1=\"{:.1f}\" y2=\"{:.1f}\" stroke=\"#14120f\" "
          "stroke-opacity=\"0.35\"/>\n",
          kHoursX + 30.0, kHoursX + 38.0, y(hour * 3600.0), y(hour * 3600.0));
    }
    for (const day::Period& period : day_.periods) {
      const double until_s = &period == &day_.periods.back() ? std::min(period.until_s, end_s_) : period.until_s;
      const double top = y(period.from_s);
      const double tall = y(until_s) - top;
      out += fmt::format(
          "<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" rx=\"3\" fill=\"#e3ddd0\"/>\n", kPeriodX,
          top + 1.0, kPeriodWidth, std::max(tall - 2.0, 2.0));
      out += text_at(kPeriodX + 6.0, top + 14.0, padded(period.name, 21).substr(0, 40));
      if (tall > 32.0) out += text_at(kPeriodX + 6.0, top + 29.0, celsius_words(period.air_k), "fill=\"#5a5448\"");
    }
    if (end_s_ > day_.off_s + 600.0) {
      out += fmt::format(
          "<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" rx=\"3\" fill=\"none\" "
          "stroke=\"#14120f\" stroke-opacity=\"0.4\" stroke-dasharray=\"3 3\"/>\n",
          kPeriodX, y(day_.off_s) + 2.0, kPeriodWidth, y(end_s_) - y(day_.off_s) - 4.0);
      out += text_at(kPeriodX + 6.0, y(day_.off_s) + 16.0, "if late");
    }
    return out;
  }

  std::string holder(const Column& column) const {
    const day::Holder& holder = day_.holders[at(column.holder)];
    const double middle = column.x + column.width / 2.0;
    std::string out;
    if (column.wide) {
      out += text_at(middle, kTop - 10.0, holder.name, "text-anchor=\"middle\"");
    } else {
      out += fmt::format("<text transform=\"translate({:.1f},{:.1f}) rotate(-32)\" font-size=\"11\">{}</text>\n",
                         middle - 3.0, kTop - 6.0, escaped(padded(holder.name, 12)));
    }
    for (const day::NoHands& stretch : day_.no_hands) {
      if (stretch.place != holder.place) continue;
      const double top = y(std::max(stretch.from_s, start_s_));
      const double bottom = y(std::min(stretch.until_s, end_s_));
      if (bottom > top)
        out +=
            fmt::format("<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" fill=\"url(#closed)\"/>\n",
                        column.x, top, column.width, bottom - top);
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
      std::string left;
      std::string right;
      const std::size_t first = row;
      double half = 0.0;
      double drawn_y = 0.0;
      for (; row < times.size() && packs[row] == pack && times[row] <= end_s_; ++row) {
        const bool end = row + 1 == times.size() || packs[row + 1] != pack;
        if (row > first && !end && y(times[row]) - drawn_y < kLeastStep) continue;
        drawn_y = y(times[row]);
        half = 0.5 * column.width *
               std::clamp(cell::energy_left_j(day_.packs[at(pack)].params, charges[row]) / scale_j, 0.0, 1.0);
        left += fmt::format("{:.1f},{:.1f} ", middle - half, y(times[row]));
        right = fmt::format("{:.1f},{:.1f} ", middle + half, y(times[row])) + right;
      }
      const std::size_t last = row - 1;
      out += fmt::format("<polygon points=\"{}{}\" fill=\"{}\" stroke=\"#14120f\" stroke-width=\"0.8\"/>\n", left,
                         right, kTones[at(pack) % std::size(kTones)]);
      const std::string& label = day_.packs[at(pack)].params.label;
      if (column.wide) {
        if (y(times[last]) - y(times[first]) > 16.0)
          out += text_at(middle, y(times[first]) + 15.0, label, "text-anchor=\"middle\" font-weight=\"700\"");
      } else {
        out += fmt::format("<text transform=\"translate({:.1f},{:.1f}) rotate(90)\" font-size=\"11\">{}</text>\n",
                           middle - 4.0, y(times[first]) + 5.0, escaped(label));
      }
      if (row < times.size() && times[row] <= end_s_ && column.wide) {
        const double back_wh = cell::energy_left_j(day_.packs[at(pack)].params, charges[last]) / 3600.0;
        out += fmt::format(
            "<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"4\" fill=\"#f7f3ea\" stroke=\"#14120f\" "
            "stroke-width=\"1.4\"/><line x1=\"{:.1f}\" x2=\"{:.1f}\" y1=\"{:.1f}\" y2=\"{:.1f}\" "
            "stroke=\"#14120f\"/>\n",
            column.x - 6.0, y(times[last]), column.x - 2.0, column.x + column.width, y(times[last]), y(times[last]));
        out += text_at(column.x + column.width, y(times[last]) - 4.0, fmt::format("{:.0f} Wh back", back_wh),
                       "text-anchor=\"end\" font-size=\"11\"");
      }
    }
    // The doubtful end of what fails first.
    if (!f_.margin_is_least && run_.first_loss.why.holder == column.holder && f_.safe_s < f_.likely_s) {
      const double top = y(std::clamp(f_.safe_s, start_s_, end_s_));
      const double bottom = y(std::min(f_.likely_s, end_s_));
      out += fmt::format("<polygon points=\"{:.1f},{:.1f} {:.1f},{:.1f} {:.1f},{:.1f}\" fill=\"url(#doubt)\"/>\n",
                         middle - 0.22 * column.width, top, middle + 0.22 * column.width, top, middle, bottom);
    }
    return out;
  }

  // Volts at the recorder (or the first must-run device), with its cut-off.
  std::string volts() const {
    int shown = -1;
    for (std::size_t d = 0; d < day_.devices.size() && shown < 0; ++d) {
      if (day_.devices[d].need == day::Need::unbroken) shown = static_cast<int>(d);
    }
    for (std::size_t d = 0; d < day_.devices.size() && shown < 0; ++d) {
      if (day_.devices[d].need == day::Need::rolling) shown = static_cast<int>(d);
    }
    if (shown < 0 || run_.trace.at_s.empty()) return "";
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
    std::string out = text_at(volts_x_, kTop - 24.0, padded(device.name, 14) + " volts");
    out += text_at(volts_x_, kTop - 10.0, fmt::format("{:.1f} to {:.1f}, cuts {:.1f}", low_v, high_v, cutoff_v),
                   "font-size=\"11\"");
    out += fmt::format(
        "<line x1=\"{0:.1f}\" x2=\"{0:.1f}\" y1=\"{1:.1f}\" y2=\"{2:.1f}\" stroke=\"#14120f\" stroke-dasharray=\"3 "
        "3\"/>\n",
        x(cutoff_v), kTop, y(end_s_));
    std::string path;
    bool pen = false;
    double drawn_y = 0.0;
    double drawn_v = 0.0;
    for (std::size_t row = 0; row < values.size(); ++row) {
      if (run_.trace.at_s[row] > end_s_) break;
      if (values[row] <= 0.5) {
        pen = false;
        continue;
      }
      if (pen && y(run_.trace.at_s[row]) - drawn_y < kLeastStep && std::fabs(values[row] - drawn_v) < 0.05) continue;
      drawn_y = y(run_.trace.at_s[row]);
      drawn_v = values[row];
      path += fmt::format("{}{:.1f} {:.1f} ", pen ? "L" : "M", x(values[row]), y(run_.trace.at_s[row]));
      pen = true;
    }
    return out + fmt::format("<path d=\"{}\" fill=\"none\" stroke=\"#14120f\" stroke-width=\"1.6\"/>\n", path);
  }

  const ForecastReport& report_;
  const day::Scenario& day_;
  const forecast::Forecast& f_;
  const forecast::DayRun& run_;
  double start_s_ = 0.0;
  double end_s_ = 0.0;
  double largest_j_ = 1.0;
  double volts_x_ = 0.0;
  double width_ = 0.0;
  std::vector<Column> columns_;
};

}  // namespace

std::string strip_svg(const ForecastReport& report) { return Strip(report).draw(); }

}  // namespace tillwrap::app
