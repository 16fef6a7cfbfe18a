// `tillwrap track`: a day file and the journal's lines of the day become the day as it stands and what the readings
// say.
#pragma once

#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "app/day_file.hpp"
#include "app/taken_out.hpp"
#include "journal/line.hpp"
#include "track/track.hpp"

namespace tillwrap::app {

struct TrackWords {
  std::optional<double> at_s;   // now, seconds after midnight of the day's first date; the last line's time otherwise
  double roll_s = 45.0 * 60.0;  // how long a take is asked about
  bool weigh_left = false;      // charge told of a pack that came out is a reading too
};

struct TrackedReading {
  std::string id, point, of;
  track::Where where = track::Where::device_v;
  double at_s = 0.0;
  double value = 0.0;
  std::size_t line = 0;
};

struct TrackAnswer {
  const DayFile* file = nullptr;
  day::Scenario scenario;  // as it stands: what was changed, started, came late
  TrackWords words;
  double at_s = 0.0;
  std::vector<TrackedReading> readings;  // index for index with answer.readings
  std::vector<std::string> notes;        // what was left aside, and why
  double slid_s = 0.0;                   // wrap comes so much later than planned
  std::vector<LeftEmpty> emptied;        // holders nothing is in now; `dark` and `running` by track_day
  std::vector<track::Reading> weighed;   // index for index with `readings`
  track::Answer answer;
};

// A day tracked in the steps of track::Tracking. Lines as in docs/formats.md, journal. `file` must outlive it. Throws
// decode::InputError at a line: not one, of something the day does not have, before the day, a pack put in where it
// does not fit, one id twice with other words.
class DayTracking {
 public:
  DayTracking(const DayFile& file, std::string_view lines, const std::string& source, const TrackWords& words);

  track::Tracking& steps() { return *steps_; }
  TrackAnswer answer();  // once the steps are done

 private:
  std::unique_ptr<TrackAnswer> asked_;  // the steps refer to it
  std::unique_ptr<track::Tracking> steps_;
};

// All of it. Throws alike.
TrackAnswer track_day(const DayFile& file, std::string_view lines, const std::string& source, const TrackWords& words,
                      const odds::Each& each = odds::one_after_another);

// The first half of it: the day as it stands and the readings in order, `answer` not yet asked for. Throws alike.
TrackAnswer day_as_it_stands(const DayFile& file, std::string_view lines, const std::string& source,
                             const TrackWords& words);

std::string track_text(const TrackAnswer& answer);
std::string track_json(const TrackAnswer& answer);  // schema/track.schema.json
nlohmann::ordered_json track_object(const TrackAnswer& answer);

}  // namespace tillwrap::app
