// A whole day from a short list of wishes: what draws power, what it is fed from, when the day is. The wiring is chosen
// from the catalogue: outputs by volts, plug and amps, leads with the plugs of both ends, gauge by draw and fuse, cells
// for everything that runs on its own.
#pragma once

#include <stdexcept>
#include <string>
#include <vector>

#include "app/report_json.hpp"
#include "catalogue/catalogue.hpp"
#include "decode/table_reader.hpp"

namespace tillwrap::app {

// Devices of one kind.
struct DeviceWish {
  std::string kind;
  int count = 1;
  std::string cells;      // what runs inside it: a pack id, or a family such as "aa-nimh-lsd"; empty: as the whole day
  int sets = 0;           // of those cells, each; 0: as the whole day
  bool on_cells = false;  // rather than from the main pack
  std::vector<std::string> phantom;  // "2 mA", one a microphone
  std::string draw;                  // measured; empty: the catalogue's
};

struct PeriodWish {
  std::string name, from, air;
};

struct Wishes {
  std::string title;
  std::vector<DeviceWish> devices;
  std::string pack;  // what the bag or cart runs from; empty: nothing but cells
  int packs = 2;
  std::string holder, box;           // catalogue ids; empty: the smallest that carries it all
  bool bridge = true;                // cells in the recorder's tray carry it through a change
  std::string cells = "aa-lithium";  // family of the cells in doors and trays
  int sets = 2;                      // of cells in each door: one in, the rest spare
  std::string call, wrap, off, overrun, meal, date;
  std::string air;                  // where `periods` is empty
  std::vector<PeriodWish> periods;  // empty: one until wrap, the meal, wrap-out
};

// It cannot be wired like this: what is wrong, and what to do. `device` is an index into `devices`, -1: the main power.
struct CannotWire : std::runtime_error {
  CannotWire(int of_device, const std::string& wrong, std::string advice)
      : std::runtime_error(wrong), device(of_device), hint(std::move(advice)) {}
  int device;
  std::string hint;
};

struct Composed {
  Json day;                        // a day file, docs/formats.md
  std::string box;                 // the kind that was taken; empty: none
  std::vector<std::string> notes;  // what was taken for granted, in sentences
};

// Ids are checked against the catalogue; a complaint is a decode::InputError at its place.
Wishes read_wishes(decode::TableReader& reader, const catalogue::Catalogue& catalogue);

// Throws CannotWire. The day decodes without error as long as the times of the wishes do.
Composed compose(const Wishes& wishes, const catalogue::Catalogue& catalogue);

// read_wishes and compose; what cannot be wired is told at the wish.
Composed compose(decode::TableReader& reader, const catalogue::Catalogue& catalogue);

}  // namespace tillwrap::app
