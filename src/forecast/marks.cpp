// Going on from where an earlier run of the same day stood.
#include <algorithm>

#include "forecast/simulator.hpp"

namespace tillwrap::forecast {

namespace {

constexpr double kApart_s = 600.0;  // nearer than that to the mark before, one is not worth its room

// Before it both plans do the same.
double parted_s(const ChangePlan& one, const ChangePlan& other) {
  std::size_t same = 0;
  while (same < std::min(one.size(), other.size()) && one[same] == other[same]) ++same;
  double first_s = kNever;
  for (const ChangePlan* plan : {&one, &other}) {
    for (std::size_t k = same; k < plan->size(); ++k) first_s = std::min(first_s, (*plan)[k].at_s);
  }
  return first_s;
}

}  // namespace

void Marks::begin_with(const Marks& others) {
  used_ = 0;
  if (others.used_ == 0) return;
  plan_ = others.plan_;
  longest_step_s_ = others.longest_step_s_;
  tolerance_ = others.tolerance_;
  if (marks_.empty()) marks_.emplace_back();
  marks_[used_++] = others.marks_.front();
}

// To the last mark before the plans part; false where there is none.
bool Simulator::go_back(Marks& marks) {
  const bool alike = marks.tolerance_ == options_.tolerance && marks.longest_step_s_ == options_.longest_step_s;
  const double parted = parted_s(marks.plan_, plan_);
  while (marks.used_ > 0 && (!alike || marks.marks_[marks.used_ - 1].at_s >= parted)) --marks.used_;
  marks.plan_ = plan_;
  marks.tolerance_ = options_.tolerance;
  marks.longest_step_s_ = options_.longest_step_s;
  const double end_s = std::min(std::max(day_.off_s, options_.search_until_s), options_.stop_s);
  std::size_t k = marks.used_;
  while (k > 0 && (marks.marks_[k - 1].at_s >= end_s || (options_.stop_at_loss && marks.marks_[k - 1].lost))) --k;
  if (k == 0) return false;
  const Marks::Mark& mark = marks.marks_[k - 1];
  static_cast<Standing&>(*this) = mark.standing;
  network_.carry(mark.carrying);
  make_agenda();
  while (agenda_[next_agenda_].at_s < mark.next_s) ++next_agenda_;
  return true;
}

// Where the agenda is at something, before it is done.
void Simulator::keep(Marks& marks) {
  if (next_agenda_ == 0 || next_agenda_ == agenda_.size() || agenda_[next_agenda_].at_s > t_ + 1e-6) return;
  if (t_ < marks.from_s_ - 1e-6 || (marks.used_ > 0 && t_ < marks.marks_[marks.used_ - 1].at_s + kApart_s)) return;
  if (marks.used_ == marks.marks_.size()) marks.marks_.emplace_back();
  Marks::Mark& mark = marks.marks_[marks.used_++];
  mark.at_s = t_;
  mark.next_s = agenda_[next_agenda_].at_s;
  mark.lost = out_.first_loss.device >= 0;
  mark.standing = *this;
  mark.carrying = network_.carrying();
}

}  // namespace tillwrap::forecast
