// Rules for batteries on passenger aircraft.
#include <array>

#include "catalogue/reading.hpp"

namespace tillwrap::catalogue {
namespace {

using Rule = TravelRule;

constexpr std::array<std::pair<std::string_view, Rule::Says>, 3> kSays = {
    {{"what-may", Rule::Says::what_may}, {"limit", Rule::Says::limit}, {"notice", Rule::Says::notice}}};
constexpr std::array<std::pair<std::string_view, Rule::Carried>, 3> kCarried = {
    {{"spare", Rule::Carried::spare}, {"in device", Rule::Carried::in_device}, {"either", Rule::Carried::either}}};
constexpr std::array<std::pair<std::string_view, Rule::Goes>, 3> kGoes = {
    {{"cabin", Rule::Goes::cabin}, {"cabin or hold", Rule::Goes::cabin_or_hold}, {"cargo", Rule::Goes::cargo}}};

// "2026-03-27": digits and hyphens in their places, so that dates compare as text.
std::string iso_date(TableReader& r, std::string_view key) {
  std::string date = r.text(key);
  bool plain = date.size() == 10;
  for (std::size_t i = 0; plain && i < date.size(); ++i)
    plain = i == 4 || i == 7 ? date[i] == '-' : date[i] >= '0' && date[i] <= '9';
  if (!plain) r.fail(key, r.what() + ": \"" + std::string(key) + "\" is no date", "write it as 2026-03-27");
  return date;
}

}  // namespace

TravelRule read_travel_rule(TableReader& r) {
  TravelRule rule;
  read_entry(r, rule);
  rule.says = word_of(r, "says", kSays);
  rule.text = r.text("text");
  rule.valid_from = iso_date(r, "valid_from");
  rule.valid_until = iso_date(r, "valid_until");
  if (rule.valid_until < rule.valid_from)
    r.fail("valid_until", r.what() + ": the rule ends before it begins", "give a later date");
  if (rule.says == Rule::Says::what_may) {
    r.allow("covers");
    const decode::Node* covers = r.node().find("covers");
    rule.covers_banks = covers != nullptr && covers->text == "power-bank";
    if (!rule.covers_banks) rule.covers = word_of(r, "covers", kTravelKinds);
    rule.carried = word_of(r, "carried", kCarried);
    rule.over_wh = r.number_or("over_wh", -1.0, kNotNegative);
    rule.to_wh = r.number_or("to_wh", -1.0, kPositive);
    rule.over_lithium_g = r.number_or("over_lithium_g", -1.0, kNotNegative);
    rule.to_lithium_g = r.number_or("to_lithium_g", -1.0, kPositive);
    rule.to_v = r.number_or("to_v", -1.0, kPositive);
    rule.goes = word_of(r, "goes", kGoes);
    rule.approval = r.boolean_or("approval", false);
    rule.counts = r.texts_or_none("counts");
    rule.may_count = r.texts_or_none("may_count");
    rule.protect = r.text("protect");
    if (rule.covers_banks) static_cast<void>(r.take("covers"));
  }
  if (rule.says == Rule::Says::limit) rule.most_a_person = static_cast<int>(r.integer("most_a_person", 0, 1000));
  r.finish();
  return rule;
}

}  // namespace tillwrap::catalogue
