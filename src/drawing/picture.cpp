#include "drawing/picture.hpp"

#include <algorithm>
#include <cmath>

namespace tillwrap::drawing {

namespace {

constexpr double kAscent = 0.76;   // of the size: tallest letter over the base line (DejaVu Sans: 1556/2048)
constexpr double kDescent = 0.24;  // deepest letter under it (483/2048)

// Whole turns of a quarter are exact, others as sine and cosine by the series the drawing needs: labels only.
struct Turn {
  double cosine = 1.0;
  double sine = 0.0;
};

Turn turn(double deg) {
  const double x = deg * 3.14159265358979323846 / 180.0;
  double sine = 0.0;
  double cosine = 0.0;
  double term = 1.0;
  for (int k = 0; k < 24; ++k) {  // |x| <= pi: the 24th term is below 1e-12
    (k % 2 == 0 ? cosine : sine) += (k % 4 < 2 ? term : -term);
    term *= x / (k + 1);
  }
  return {cosine, sine};
}

}  // namespace

void Picture::text(Point at, std::string words, double size, bool bold, Anchor anchor, Colour colour) {
  items.emplace_back(Text{at, std::move(words), size, bold, anchor, 0.0, colour});
}

void Picture::turned(Point at, std::string words, double size, double turned_deg, bool bold) {
  items.emplace_back(Text{at, std::move(words), size, bold, Anchor::start, turned_deg, kInk});
}

void Picture::line(Point from, Point to, double stroke, std::vector<double> dash, Colour colour) {
  items.emplace_back(Shape{.points = {from, to}, .stroke = stroke, .colour = colour, .dash = std::move(dash)});
}

void Picture::box(Point corner, double wide, double tall, double stroke, Fill fill, Colour fill_colour,
                  std::vector<double> dash, Colour colour) {
  items.emplace_back(Shape{
      .points = {corner, {corner.x + wide, corner.y}, {corner.x + wide, corner.y + tall}, {corner.x, corner.y + tall}},
      .closed = true,
      .fill = fill,
      .fill_colour = fill_colour,
      .stroke = stroke,
      .colour = colour,
      .dash = std::move(dash)});
}

void Picture::place(const Picture& other, Point corner, double scale) {
  const auto moved = [&](Point p) { return Point{corner.x + scale * p.x, corner.y + scale * p.y}; };
  for (const Item& item : other.items) {
    Item copy = item;
    if (auto* text = std::get_if<Text>(&copy)) {
      text->at = moved(text->at);
      text->size *= scale;
    } else if (auto* shape = std::get_if<Shape>(&copy)) {
      for (Point& p : shape->points) p = moved(p);
      shape->stroke *= scale;
      for (double& length : shape->dash) length *= scale;
    } else if (auto* circle = std::get_if<Circle>(&copy)) {
      circle->centre = moved(circle->centre);
      circle->radius *= scale;
      circle->stroke *= scale;
    }
    items.push_back(std::move(copy));
  }
}

Extent extent(const Item& item) {
  if (const auto* text = std::get_if<Text>(&item)) {
    const double wide = text_width(text->words, text->size, text->bold);
    const double left = text->anchor == Anchor::start ? 0.0 : text->anchor == Anchor::middle ? -0.5 * wide : -wide;
    const Turn by = turn(text->turned_deg);
    Extent found{1e18, 1e18, -1e18, -1e18};
    for (const double x : {left, left + wide}) {
      for (const double y : {-kAscent * text->size, kDescent * text->size}) {
        const double at_x = text->at.x + x * by.cosine - y * by.sine;
        const double at_y = text->at.y + x * by.sine + y * by.cosine;
        found = {std::min(found.left, at_x), std::min(found.top, at_y), std::max(found.right, at_x),
                 std::max(found.bottom, at_y)};
      }
    }
    return found;
  }
  if (const auto* circle = std::get_if<Circle>(&item)) {
    const double r = circle->radius + 0.5 * circle->stroke;
    return {circle->centre.x - r, circle->centre.y - r, circle->centre.x + r, circle->centre.y + r};
  }
  const auto& shape = std::get<Shape>(item);
  Extent found{1e18, 1e18, -1e18, -1e18};
  for (const Point& p : shape.points) {
    const double half = 0.5 * shape.stroke;
    found = {std::min(found.left, p.x - half), std::min(found.top, p.y - half), std::max(found.right, p.x + half),
             std::max(found.bottom, p.y + half)};
  }
  return found;
}

}  // namespace tillwrap::drawing
