// Another way to feed what a holder feeds: packs of another kind in their own holder, through a lead with the right
// plugs or one that ends in a dummy pack; another box.
#pragma once

#include <string>
#include <vector>

#include "app/day_edit.hpp"

namespace tillwrap::app {

struct Feed {
  std::string holder;  // name of the holder it takes the place of
  const catalogue::HolderKind* holder_kind = nullptr;
  const catalogue::PackKind* pack_kind = nullptr;
  std::vector<std::string> labels;  // of the packs, in the order they go in
  std::string spare = "bag";
  double health = 1.0;
  double price = -1.0;                      // below 0: not said
  const catalogue::BoxKind* box = nullptr;  // the box it sits in becomes one of these
};

// How a holder's power leaves it in the day as written: the inputs it feeds.
struct FeedTarget {
  std::string point;  // "box.in-1", "recorder.dc"
  std::string plug;   // connector id that goes in there
  bool by_wire = false;
  std::string box;          // name, when the point is a box's
  std::string from_socket;  // connector id its lead starts at
  std::string to;           // what the day file says of its lead's end: "recorder" may mean recorder.dc
};
std::vector<FeedTarget> feed_targets(const DayFile& file, const catalogue::Catalogue& catalogue, int holder);

// Holder kinds a pack kind sits in.
std::vector<const catalogue::HolderKind*> holders_of(const catalogue::Catalogue& catalogue,
                                                     const std::string& pack_kind);

struct FeedChange {
  DayChange change;
  bool adapter = false;  // by a lead that was not there
  std::string how;       // "in the cup", "lead barrel-2mm1 to round-lock-4"
};

// Old packs of the holder that nothing else uses leave the kit. Throws NotPossible.
FeedChange feed_change(const DayFile& file, const catalogue::Catalogue& catalogue, const Feed& feed);

// Another kind of box: leads keep an output of the same plug where there is one, else get the right plug.
DayChange box_change(const DayFile& file, const std::string& box, const catalogue::BoxKind& kind);

// The connector a dummy pack for this holder ends in.
std::string dummy_plug(const catalogue::HolderKind& kind);

}  // namespace tillwrap::app
