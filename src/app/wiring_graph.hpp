// What a wiring drawing shows, before it is laid out: boxes with their lines of text, leads with theirs.
#pragma once

#include <string>
#include <vector>

#include "app/day_file.hpp"
#include "diagram/layout.hpp"
#include "findings/finding.hpp"

namespace tillwrap::app {

struct WiringBox {
  enum class Look { pack, source, box, device };
  Look look = Look::pack;
  std::string title;
  std::vector<std::string> details;
  std::vector<int> marks;  // numbers of findings
  bool optional = false;   // a device the day can do without
};

struct WiringLead {
  int from = 0;  // boxes
  int to = 0;
  std::string row;    // what it is called in the box it leaves: "out-1  3 A UL 248-14"
  std::string above;  // over the line: "0.5 m AWG 22"
  std::string below;  // under it: plugs
  std::vector<int> marks;
  bool built_in = false;                    // contacts, no lead
  bool sometimes = false;                   // a source that is not there all day
  bool only = false;                        // nothing else feeds what must run behind it
  bool plug_from = false, plug_to = false;  // there is a plug at that end
  bool locks_from = false, locks_to = false;
};

struct WiringGraph {
  std::vector<WiringBox> boxes;
  std::vector<WiringLead> leads;
  std::vector<std::string> alone;  // devices on cells of their own, in words
};

WiringGraph wiring_graph(const DayFile& file, const std::vector<findings::Finding>& found);

}  // namespace tillwrap::app
