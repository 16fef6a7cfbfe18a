// Changes to a day file as it was written: a step or an option is the file with a few keys changed, read again by the
// same decoder, so that everything it checks is checked for the changed day too, and anyone can make the same change by
// hand.
#pragma once

#include <functional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "app/day_file.hpp"
#include "decode/node.hpp"

namespace tillwrap::app {

// The change has no place in this day: what it would change is not there.
struct NotPossible : std::runtime_error {
  using std::runtime_error::runtime_error;
};

// Throws NotPossible.
using DayChange = std::function<void(decode::Document& document)>;

namespace edit {

decode::Node text(std::string key, std::string value);
decode::Node number(std::string key, double value);
decode::Node list(std::string key, std::vector<decode::Node> children = {});
decode::Node texts(std::string key, const std::vector<std::string>& values);
decode::Node table(std::string key, std::vector<decode::Node> children = {});
decode::Node clock(std::string key, double at_s);

// Puts `value` under its key, in place of what stands there (units in the key, such as length_m, included).
void set(decode::Node& table, decode::Node value);
bool drop(decode::Node& table, std::string_view key);
decode::Node* child(decode::Node& table, std::string_view key);
decode::Node& child_or_new(decode::Node& table, decode::Node fresh);

// The list of [[name]] tables; made when there is none.
decode::Node& things(decode::Document& document, const std::string& name);
// The [[list]] table whose `key` is `value`; throws NotPossible.
decode::Node& thing(decode::Document& document, const std::string& list, const std::string& key,
                    const std::string& value);
// Table of one pack: a label written among others gets a table of its own.
decode::Node& pack(decode::Document& document, const std::string& label);
// A name nothing has yet: "cup spare", "cup spare 2", ...
std::string fresh_name(const decode::Document& document, const std::string& wish);
// Mode of a device in the period of that index, over whatever the period says otherwise.
void set_mode(decode::Document& document, std::size_t period, const std::string& device, const std::string& mode);
// The label a child of a holder's `packs` names.
std::string slot_label(const decode::Node& slot);
// Packs that no holder and no bay names are kept: they may serve as spares.
void remove_pack(decode::Document& document, const std::string& label);

}  // namespace edit

// The day with these changes made one after another. Draws measured in the day as it is keep what they found: the
// factors of `as_is` are taken over by device name. Throws NotPossible, decode::InputError.
DayFile changed_day(const decode::Document& document, const DayFile& as_is, const std::vector<DayChange>& changes,
                    const catalogue::Catalogue& catalogue);

}  // namespace tillwrap::app
