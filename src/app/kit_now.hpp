// `tillwrap kit`: each pack as it is now, from the facts of a journal: charge with what it lost by itself since,
// health, where it lies.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "app/journal_add.hpp"
#include "app/pack_history.hpp"
#include "catalogue/catalogue.hpp"
#include "journal/fold.hpp"

namespace tillwrap::app {

struct KitPack {
  const journal::PackState* facts = nullptr;
  const catalogue::PackKind* kind = nullptr;  // null: unknown
  std::optional<health::Band> charge;         // nothing: never told
  PackHistory history;
  std::optional<WeakTwin> twin;
  std::string advice;
  std::vector<std::string> notes;
};

struct KitAnswer {
  journal::State state;
  std::vector<KitPack> packs;
  std::int64_t now_us = 0;
};

// Charge now: from the last told one on, each stretch by what lost it (cell::charge_after_rest) at the temperature told
// for its place, else 20 °C. Nothing where none was told or the kind is unknown.
std::optional<health::Band> charge_now(const journal::PackState& pack, const catalogue::PackKind& kind,
                                       const catalogue::CellKind& cell, const PackHistory& history, std::int64_t now_us,
                                       std::vector<std::string>& notes);

// Keep `state` as it is returned: the packs point into it.
KitAnswer kit_now(journal::State state, const catalogue::Catalogue& catalogue, std::int64_t now_us);

std::string kit_text(const KitAnswer& answer, const Zone& zone);
std::string kit_json(const KitAnswer& answer, const Zone& zone);  // schema/kit.schema.json
nlohmann::ordered_json kit_object(const KitAnswer& answer, const Zone& zone);

}  // namespace tillwrap::app
