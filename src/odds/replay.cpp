#include "odds/replay.hpp"

#include <algorithm>
#include <numeric>

#include "quantity/order.hpp"

namespace tillwrap::odds {

namespace {

constexpr double kLongestStep_s = 7200.0;

// Something of it lies in a bag.
bool in_a_bag(const day::Scenario& day) {
  const auto bag = [&](int place) { return day.places[static_cast<std::size_t>(place)].kind == day::Place::Kind::bag; };
  return std::any_of(day.devices.begin(), day.devices.end(), [&](const day::Device& d) { return bag(d.place); }) ||
         std::any_of(day.holders.begin(), day.holders.end(), [&](const day::Holder& h) { return bag(h.place); }) ||
         std::any_of(day.leads.begin(), day.leads.end(), [&](const day::Lead& l) { return bag(l.place); }) ||
         std::any_of(day.packs.begin(), day.packs.end(), [&](const day::Pack& p) { return bag(p.spare_place); });
}

}  // namespace

Replay::Replay(const day::Scenario& scenario, const ReplayOptions& options,
               const std::function<bool(const forecast::Piece&)>& also)
    : base_(scenario), options_(options), draw_(base_, options.spread, options.seed), pieces_(forecast::split(base_)) {
  for (forecast::Piece& piece : pieces_) {
    if (!piece.must_run && !(also && also(piece))) continue;
    Part part;
    part.piece = &piece;
    part.fresh = piece.day;
    part.model = std::make_unique<forecast::Model>(piece.day);
    part.simulator = std::make_unique<forecast::Simulator>(*part.model);
    part.bag_sides = in_a_bag(piece.day) ? 2 : 1;
    part.plan = forecast::plan_changes(*part.model, until_s());
    part.plans_anew = forecast::plans_anew(piece.day);
    part.simulator->run(part.plan, run_options(until_s()), result_);
    part.usual_s = std::min(result_.first_loss.at_s, until_s());
    parts_.push_back(std::move(part));
  }
  // What fails first is computed first; the rest need then not be followed further.
  sort_stably(parts_, [](const Part& a, const Part& b) { return a.usual_s < b.usual_s; });
}

forecast::RunOptions Replay::run_options(double until_s) const {
  return {
      .search_until_s = until_s, .longest_step_s = kLongestStep_s, .tolerance = options_.tolerance, .loss_only = true};
}

forecast::RunOptions Replay::to_loss(double until_s) const {
  forecast::RunOptions own = run_options(std::max(until_s, base_.off_s));
  own.stop_s = until_s;
  own.stop_at_loss = true;
  return own;
}

double Replay::lost_by_s(double until_s) {
  lost_device_ = result_.first_loss.device;
  return result_.first_loss.device >= 0 ? std::min(until_s, result_.first_loss.at_s) : until_s;
}

void Replay::put(Part& part, const Turn& turn, const std::optional<Luck>& luck) {
  part.luck = luck;
  part.marks.forget();
  Draw::put(turn, part.fresh, part.piece->day);
}

void Replay::apply(Part& part, const Luck& luck) {
  if (part.luck == luck) return;
  draw_.turn_of(*part.piece, luck, turn_);
  put(part, turn_, luck);
}

double Replay::run_to_loss_s(Part& part, double until_s, const forecast::ChangePlan& plan) {
  if (options_.several_runs) return run_on_to_loss_s(part, until_s, plan);
  part.simulator->run(plan, to_loss(until_s), result_);
  return lost_by_s(until_s);
}

double Replay::run_on_to_loss_s(Part& part, double until_s, const forecast::ChangePlan& plan) {
  part.simulator->run(plan, to_loss(until_s), result_, part.marks);
  return lost_by_s(until_s);
}

forecast::ChangePlan Replay::plan_of_the_day(Part& part, double until_s) const {
  return forecast::plan_changes(*part.model, until_s, options_.tolerance, *part.simulator, part.marks);
}

double Replay::planned_loss_s(Part& part, double until_s) {
  const double lost_s = run_to_loss_s(part, until_s, part.plan);
  if (!part.plans_anew || lost_s >= until_s || !forecast::ended_early(part.piece->day, part.plan, result_))
    return lost_s;
  const forecast::ChangePlan anew = plan_of_the_day(part, std::max(until_s, base_.off_s));
  // Where something bridges the gap, waiting for the change may be the better of the two.
  const int waited = lost_device_;
  const double anew_s = run_on_to_loss_s(part, until_s, anew);
  if (anew_s < lost_s) lost_device_ = waited;
  return std::max(lost_s, anew_s);
}

template <typename Run>
std::vector<std::size_t> Replay::unsettled_days(Part& part, const std::vector<Luck>& luck,
                                                const std::vector<double>& until_s,
                                                const std::vector<std::size_t>& days, Lasted& lasted, Run&& run) {
  if (days.empty()) return {};
  std::vector<Asked> asked;
  for (const std::size_t k : days) {
    draw_.turn_of(*part.piece, luck[k], turn_);
    asked.push_back({draw_.badness(turn_), until_s[k]});
  }
  corner_ = turn_;
  std::vector<std::size_t> left =
      lasted.unsettled(asked, part.bag_sides, [&](const Badness& worst, double to_s, bool thorough) {
        draw_.turn_at(worst, corner_);
        put(part, corner_, std::nullopt);
        return run(std::min(to_s, this->until_s()), thorough);
      });
  for (std::size_t& k : left) k = days[k];
  return left;
}

std::vector<std::size_t> Replay::may_lose(Part& part, const std::vector<Luck>& luck,
                                          const std::vector<double>& until_s) {
  // The usual one itself does not last so long: days about as bad are followed at once.
  std::vector<std::size_t> follow, days;
  for (std::size_t k = 0; k < luck.size(); ++k) (until_s[k] >= part.usual_s ? follow : days).push_back(k);
  const std::vector<std::size_t> left =
      unsettled_days(part, luck, until_s, days, part.lasted, [&](double to_s, bool thorough) {
        return thorough ? planned_loss_s(part, to_s) : run_to_loss_s(part, to_s, part.plan);
      });
  follow.insert(follow.end(), left.begin(), left.end());
  return follow;
}

std::vector<std::size_t> Replay::may_lose(Part& part, const std::vector<Luck>& luck, const std::vector<double>& until_s,
                                          const forecast::ChangePlan& plan, Lasted& lasted) {
  std::vector<std::size_t> days(luck.size());
  std::iota(days.begin(), days.end(), std::size_t{0});
  return unsettled_days(part, luck, until_s, days, lasted,
                        [&](double to_s, bool) { return run_to_loss_s(part, to_s, plan); });
}

void Replay::first_losses_s(Part& part, const std::vector<Luck>& luck, std::vector<double>& first_s) {
  for (const std::size_t k : may_lose(part, luck, first_s)) {
    apply(part, luck[k]);
    first_s[k] = planned_loss_s(part, first_s[k]);
  }
}

int Replay::lost_device(const Part& part) const { return part.piece->devices[static_cast<std::size_t>(lost_device_)]; }

}  // namespace tillwrap::odds
