#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/recharge_report.hpp"
#include "app/words.hpp"

namespace tillwrap::app {

namespace {

constexpr std::size_t kWidth = 80;
constexpr std::size_t kLabel = 18;
constexpr std::size_t kBar = 60;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

std::string heading(const std::string& words) { return "\n" + words + "\n"; }
std::string paragraph(const std::string& words) { return "  " + wrapped(words, kWidth - 2, "  ") + "\n"; }

// A row of the picture: cells from `from_s`, one a `cell_s`.
class Bar {
 public:
  Bar(double from_s, double until_s) : from_s_(from_s), cell_s_((until_s - from_s) / kBar), cells_(kBar, " ") {}

  void fill(double from_s, double until_s, const std::string& with) {
    for (std::size_t k = first(from_s); k < first(until_s); ++k) cells_[k] = with;
  }
  void write(double from_s, double until_s, const std::string& words) {
    const std::size_t begin = first(from_s);
    const std::size_t room = std::max(first(until_s), begin) - begin;
    if (room < 2) return;
    std::size_t k = begin;
    for (std::size_t i = 0; i < words.size() && k < begin + room - 1;) {  // whole UTF-8 characters
      std::size_t n = 1;
      while (i + n < words.size() && (static_cast<unsigned char>(words[i + n]) & 0xC0U) == 0x80U) ++n;
      cells_[k++] = words.substr(i, n);
      i += n;
    }
  }
  [[nodiscard]] std::size_t first(double s) const {
    return static_cast<std::size_t>(std::clamp(std::lround((s - from_s_) / cell_s_), 0L, static_cast<long>(kBar)));
  }
  [[nodiscard]] std::string words() const {
    std::string out;
    for (const std::string& cell : cells_) out += cell;
    while (!out.empty() && out.back() == ' ') out.pop_back();
    return out;
  }

 private:
  double from_s_, cell_s_;
  std::vector<std::string> cells_;
};

std::string picture(const RechargeAnswer& answer) {
  const recharge::Night& night = answer.night;
  const Wording wording(answer.file.inventory.settings);
  std::string out;
  const double length_s = night.until_s - night.from_s;
  const double every_s = length_s > 20 * 3600.0 ? 4 * 3600.0 : length_s > 7 * 3600.0 ? 2 * 3600.0 : 3600.0;
  Bar scale(night.from_s, night.until_s);
  for (double s = std::ceil(night.from_s / every_s) * every_s; s < night.until_s; s += every_s)
    scale.write(s, night.until_s, wording.hour(s));
  out += padded("", kLabel + 1) + scale.words() + "\n";
  const std::vector<RechargePause> pauses = recharge_pauses(answer);
  for (int c = 0; c < static_cast<int>(night.chargers.size()); ++c) {
    for (int bay = 0; bay < night.chargers[at(c)].bays; ++bay) {
      Bar bar(night.from_s, night.until_s);
      bool any = false;
      for (const recharge::Stay& stay : answer.answer.stays) {
        if (stay.charger != c || stay.first_bay != bay) continue;
        any = true;
        const double full_s = std::min(stay.full_s, stay.out_s);
        bar.fill(stay.in_s, full_s, "=");
        bar.fill(full_s, stay.out_s, ".");
        for (const RechargePause& pause : pauses) {
          const double from_s = std::max(pause.from_s, stay.in_s);
          const double until_s = std::min(pause.until_s, full_s);
          if (until_s > from_s) bar.fill(from_s, until_s, "-");
        }
        bar.fill(stay.in_s, stay.in_s + length_s / kBar, "[");
        bar.write(stay.in_s + length_s / kBar, stay.out_s, stay_label(answer, stay));
      }
      if (any)
        out += padded(night.chargers[at(c)].bays == 1 ? night.chargers[at(c)].name
                                                      : fmt::format("{} {}", night.chargers[at(c)].name, bay + 1),
                      kLabel) +
               " " + bar.words() + "\n";
    }
  }
  Bar hands(night.from_s, night.until_s);
  for (const day::Span& span : night.asleep) hands.fill(span.from_s, span.until_s, "z");
  for (const day::Span& span : night.there) hands.fill(span.from_s, span.until_s, "#");
  for (const double s : answer.answer.plan.get_up_s) hands.fill(s, s + length_s / kBar, "!");
  out += padded("somebody there", kLabel) + " " + hands.words() + "\n";
  out += padded("", kLabel + 1) + "= charging  . full  # awake" + (pauses.empty() ? "" : "  - switched off") +
         (answer.asleep ? "  z asleep" : "") + (answer.answer.plan.get_up_s.empty() ? "" : "  ! gets up") + "\n";
  return out;
}

}  // namespace

std::string recharge_text(const RechargeAnswer& answer) {
  const Wording wording(answer.file.inventory.settings);
  const std::string& title = answer.file.scenario.title;
  std::string out = wrapped((title.empty() ? std::string("Recharge") : title + ": recharge"), kWidth, "") + "\n";
  out += fmt::format("{} to {}\n\n", wording.clock(answer.night.from_s), wording.clock(answer.night.until_s));
  out += wrapped(recharge_verdict(answer), kWidth, "") + "\n";
  if (!answer.answer.stays.empty()) {
    const std::size_t clock = wording.clock_columns();
    out += heading("ON THE CHARGERS");
    out += "  " + padded("in", clock) + " " + padded("pack", 16) + " " + padded("charger", 21) + " " +
           padded("full", clock) + " " + padded("out", clock) + " charge\n";
    for (const recharge::Stay& stay : answer.answer.stays) {
      const std::string start = percent_words(std::min(1.0, stay.start_charge));
      out += "  " + padded(wording.clock(stay.in_s), clock) + " " + padded(stay_label(answer, stay), 16) + " " +
             padded(bay_label(answer, stay), 21) + " " +
             padded(stay.full_s < recharge::kNoLimit ? wording.clock(stay.full_s) : "-", clock) + " " +
             padded(wording.clock(stay.out_s), clock) + " " +
             fmt::format("{} to {}\n", start.substr(0, start.find(' ')), percent_words(std::min(1.0, stay.end_charge)));
    }
    out += heading("THE NIGHT") + picture(answer);
  }
  out += heading("READY");
  double taken_j = 0.0;
  for (const recharge::Stay& stay : answer.answer.stays) taken_j += stay.taken_j;
  for (std::size_t b = 0; b < answer.night.batteries.size(); ++b) {
    const recharge::Outcome& outcome = answer.answer.outcomes[b];
    const std::string& label = answer.file.scenario.packs[at(answer.pack_of[b])].params.label;
    const std::string when = outcome.was_ready ? "full already"
                             : outcome.ready ? "ready " + wording.clock(std::max(outcome.ready_s, answer.night.from_s))
                                             : "NOT READY";
    out += "  " + padded(label, 18) + " " + padded(answer.night.batteries[b].rank >= 0 ? "needed" : "spare", 7) + " " +
           right_padded_left(percent_words(std::min(1.0, outcome.charge)), 6) + "  " + when + "\n";
  }
  if (taken_j > 0.0) out += paragraph(fmt::format("From the supply: {}.", wh_words(taken_j)));
  out += heading("WHY");
  for (const std::string& reason : recharge_reasons(answer)) out += paragraph(reason);
  out += heading("CAUTIONS");
  for (const std::string& caution : recharge_cautions(answer)) out += paragraph(caution);
  return out;
}

}  // namespace tillwrap::app
