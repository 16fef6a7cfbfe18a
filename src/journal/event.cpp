#include "journal/event.hpp"

namespace tillwrap::journal {

const Key* Form::key(std::string_view wanted) const {
  for (const Key& one : keys) {
    if (one.name == wanted) return &one;
  }
  return nullptr;
}

const std::vector<Form>& forms() {
  using enum Value;
  // A battery test may find a little more than the label says; a resistance below a third of a new one's is a wrong
  // reading (common practice, no source).
  constexpr double kMostHealth = 1.2;
  constexpr double kMostTested = 1.5;
  static const std::vector<Form> all{
      {Event::acquired,
       "acquired",
       {{"pack", label, true},
        {"kind", label, true},
        {"bought", date},
        {"price", money, false, 0.0, 1e6},
        {"health", fraction, false, 0.05, kMostHealth},
        {"note", text}}},
      {Event::charged,
       "charged",
       {{"pack", label, true}, {"charge", fraction, true, 0.0, 1.0}, {"charger", label}, {"note", text}}},
      {Event::rested,
       "rested",
       {{"pack", label, true}, {"place", label, true}, {"temperature", temperature}, {"note", text}}},
      {Event::put_in, "put_in", {{"pack", label, true}, {"holder", label, true}, {"note", text}}},
      {Event::taken_out,
       "taken_out",
       {{"pack", label, true}, {"holder", label}, {"charge", fraction, false, 0.0, 1.0}, {"note", text}}},
      {Event::reading,
       "reading",
       {{"point", point, true}, {"of", label, true}, {"value", Value::reading, true}, {"note", text}}},
      {Event::period, "period", {{"name", label, true}, {"note", text}}},
      {Event::late, "late", {{"minutes", minutes, true, -1440.0, 1440.0}, {"note", text}}},
      {Event::tested,
       "tested",
       {{"pack", label, true},
        {"capacity", fraction, true, 0.05, kMostTested},
        {"resistance", factor, true, 0.3, 10.0},
        {"capacity_sd", fraction, false, 0.0, 1.0},
        {"resistance_sd", factor, false, 0.0, 10.0},
        {"log", text},
        {"day", date},
        {"note", text}}},
      {Event::used,
       "used",
       {{"pack", label, true},
        {"ah", charge_ah, true, 0.0, 10000.0},
        {"charge", fraction, false, 0.0, 1.0},
        {"note", text}}},
      {Event::retired, "retired", {{"pack", label, true}, {"reason", text}, {"note", text}}},
      {Event::taken_back, "taken_back", {{"of", id, true}, {"note", text}}},
  };
  return all;
}

const Form* form_of(std::string_view name) {
  for (const Form& form : forms()) {
    if (form.name == name) return &form;
  }
  return nullptr;
}

const Form& form_of(Event event) { return forms()[static_cast<std::size_t>(event)]; }

const std::vector<Point>& points() {
  static const std::vector<Point> all{
      {"input volts", "V", 0.0, 100.0},
      {"meter", "", 0.0, 1.0},
      {"gauge", "", 0.0, 1.0},
      {"amps", "A", -200.0, 200.0},
  };
  return all;
}

const Point* point_of(std::string_view name) {
  for (const Point& point : points()) {
    if (point.name == name) return &point;
  }
  return nullptr;
}

}  // namespace tillwrap::journal
