// What is so, from what happened: the state of each pack after all lines of a journal. Facts only; what charge is left
// today is the engine's to say.
#pragma once

#include <cstdint>
#include <deque>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "journal/line.hpp"
#include "journal/unite.hpp"

namespace tillwrap::journal {

// The last charge that was told.
struct ToldCharge {
  double fraction = 0.0;
  std::int64_t at_us = 0;
  Event by = Event::charged;  // charged, taken_out, used, reading (its own gauge)
  double drawn_ah = 0.0;      // used since, where no charge was told with it
};

// Where it was from then on.
struct Stay {
  std::int64_t since_us = 0;
  std::string place;                      // empty while in a holder, or unknown
  std::string holder;                     // empty while out of one
  std::optional<double> temperature_k{};  // as told
};

struct Test {
  std::int64_t at_us = 0;
  double capacity = 1.0;    // over new
  double resistance = 1.0;  // over new
  std::optional<double> capacity_sd, resistance_sd;
  std::string log;
  std::string id;   // of the line
  std::string day;  // ISO 8601, of a day in use whose readings it sums up; else empty
};

// A day in use that was told from charge to what was left.
struct FieldDay {
  std::int64_t from_us = 0;  // charged
  std::int64_t at_us = 0;
  double ah = 0.0;
  double from = 1.0;  // charge it was charged to
  double to = 0.0;    // charge left
};

// From put in to taken out, and what was read meanwhile.
struct Turn {
  struct Read {
    std::int64_t at_us = 0;
    double value = 0.0;
  };
  std::string holder;
  std::int64_t in_us = 0;
  std::optional<std::int64_t> out_us;  // nothing: still in
  std::optional<ToldCharge> start;     // told before it, nothing drawn in between
  std::optional<double> left;          // charge, told when it came out or off its own gauge before it was charged again
  std::vector<Read> amps;              // of its holder
  std::vector<Read> gauge;             // its own
  std::vector<Read> volts;             // at an input, no other pack being in use then
  std::size_t amps_elsewhere = 0;      // readings of a box, a source, a device: perhaps not all its own
  std::size_t volts_of_several = 0;    // with other packs in use: which one fed that input is not told
  std::size_t meters = 0;              // of devices: the profile they are set to is not told
  bool counted_by_used = false;        // a `used` line tells the same Ah
  bool counted_by_day = false;         // a test sums up that day
};

struct PackState {
  std::string label;
  std::string kind;  // empty: never acquired in this journal
  std::optional<Moment> acquired;
  std::string bought;  // ISO 8601 date; empty: unknown
  std::optional<double> price;
  std::optional<double> health;  // when acquired
  std::string note;
  std::optional<ToldCharge> charge;
  std::vector<Stay> stays;          // since the last told charge, and the one before it; the last is where it is
  std::optional<Moment> last_used;  // put in, taken out or used
  std::optional<Moment> last_charged;
  int charges = 0;
  double used_ah = 0.0;
  std::vector<Test> tests;           // in order
  std::vector<FieldDay> field_days;  // in order
  std::vector<Turn> turns;           // in order
  std::optional<double> charged_to;  // nothing used since
  std::optional<Moment> retired;
  std::string retired_reason;
};

// A test sums up what was read of the pack on that date, in that zone: its turns and field days count with it.
void count_by_day(PackState& pack, const std::string& date, int offset_min);

// Something the reader should know; the lines stay as they are.
struct Remark {
  enum class Kind {
    later_version,       // kept, not folded
    unknown_event,       // kept, not folded
    same_id,             // two lines share an id and differ
    taken_back_unknown,  // no line has the id taken back
    told_twice,          // the same fact twice within minutes: by two devices, or by two hands
    contradiction,       // two facts that cannot both be so
    clock,               // a clock that was wrong
  };
  Kind kind = Kind::contradiction;
  std::string id;  // of the line
  std::string text;
};

struct State {
  std::vector<PackState> packs;  // by label; a label used again after it was retired comes once for each
  std::size_t lines = 0;
  std::size_t folded = 0;
  std::size_t taken_back = 0;
  std::vector<Remark> remarks;  // the first kMostRemarks
  std::size_t more_remarks = 0;
  std::map<Remark::Kind, std::size_t> counts;

  [[nodiscard]] const PackState* pack(std::string_view label) const;  // the latest of that label; null: none
};

inline constexpr std::size_t kMostRemarks = 200;

// Takes lines one by one, in the order of `before`, so that a journal of any length folds in little memory.
class Fold {
 public:
  explicit Fold(Survey survey) : survey_(std::move(survey)) {}
  void add(const Line& line);
  State take();

 private:
  PackState& pack_of(const Line& line);
  void remark(Remark::Kind kind, const std::string& id, std::string text);
  void apply(const Line& line);
  void look_for_twin(const Line& line);
  void acquire(const Line& line);
  void move(PackState& pack, Stay stay);
  void read(const Line& line);

  Survey survey_;
  State state_;
  std::map<std::string, std::vector<PackState>> packs_;  // by label, in the order acquired
  std::map<std::string, std::string> in_holder_;         // holder -> label
  struct Recent {
    std::int64_t at_us = 0;
    std::string what, by;
  };
  std::deque<Recent> recent_;          // of the last minutes
  std::map<std::string, bool> found_;  // ids that are taken back: seen among the lines?
};

// Of all lines in any order, each once or more often.
State fold(const std::vector<Line>& lines);

}  // namespace tillwrap::journal
