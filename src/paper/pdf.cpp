#include "paper/pdf.hpp"

#include <cairo-pdf.h>
#include <pango/pangocairo.h>

#include <cmath>
#include <memory>
#include <numbers>
#include <stdexcept>

namespace tillwrap::paper {

namespace {

using drawing::Anchor;
using drawing::Fill;
using drawing::Point;

void set_colour(cairo_t* page, drawing::Colour colour) {
  const auto part = [&](unsigned shift) { return ((colour.rgb >> shift) & 0xffU) / 255.0; };
  cairo_set_source_rgb(page, part(16), part(8), part(0));
}

cairo_status_t append(void* bytes, const unsigned char* data, unsigned length) {
  static_cast<std::string*>(bytes)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

void draw(cairo_t* page, const drawing::Text& text) {
  cairo_save(page);
  cairo_translate(page, text.at.x, text.at.y);
  cairo_rotate(page, text.turned_deg * std::numbers::pi / 180.0);
  const std::unique_ptr<PangoLayout, void (*)(gpointer)> layout(pango_cairo_create_layout(page), g_object_unref);
  const std::unique_ptr<PangoFontDescription, void (*)(PangoFontDescription*)> font(pango_font_description_new(),
                                                                                    pango_font_description_free);
  pango_font_description_set_family(font.get(), "DejaVu Sans");
  pango_font_description_set_weight(font.get(), text.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_font_description_set_absolute_size(font.get(), text.size * PANGO_SCALE);
  pango_layout_set_font_description(layout.get(), font.get());
  pango_layout_set_text(layout.get(), text.words.data(), static_cast<int>(text.words.size()));
  pango_layout_set_single_paragraph_mode(layout.get(), TRUE);
  int units = 0;
  pango_layout_get_size(layout.get(), &units, nullptr);
  const double natural = static_cast<double>(units) / PANGO_SCALE;
  const double reserved = drawing::text_width(text.words, text.size, text.bold);
  // A substitute font may be wider than the room kept for it.
  const double squeeze = natural > reserved * 1.001 && natural > 0.0 ? reserved / natural : 1.0;
  const double wide = natural * squeeze;
  const double left = text.anchor == Anchor::start ? 0.0 : text.anchor == Anchor::middle ? -0.5 * wide : -wide;
  cairo_translate(page, left, 0.0);
  cairo_scale(page, squeeze, 1.0);
  set_colour(page, text.colour);
  cairo_move_to(page, 0.0, -static_cast<double>(pango_layout_get_baseline(layout.get())) / PANGO_SCALE);
  pango_cairo_show_layout(page, layout.get());
  cairo_restore(page);
}

void trace(cairo_t* page, const drawing::Shape& shape) {
  cairo_new_path(page);
  for (const Point& p : shape.points) cairo_line_to(page, p.x, p.y);
  if (shape.closed) cairo_close_path(page);
}

// Parallel lines across the shape's extent, clipped to it: a vector hatch.
void hatch(cairo_t* page, const drawing::Shape& shape, double apart, double wide, bool rising) {
  const drawing::Extent box = drawing::extent(drawing::Item(shape));
  cairo_save(page);
  trace(page, shape);
  cairo_clip(page);
  cairo_set_line_width(page, wide);
  const double tall = box.bottom - box.top;
  for (double x = box.left - tall; x < box.right + tall; x += apart * std::numbers::sqrt2) {
    cairo_move_to(page, x, rising ? box.bottom : box.top);
    cairo_line_to(page, x + tall, rising ? box.top : box.bottom);
  }
  cairo_stroke(page);
  cairo_restore(page);
}

void draw(cairo_t* page, const drawing::Shape& shape) {
  if (shape.points.empty()) return;
  if (shape.fill == Fill::plain) {
    set_colour(page, shape.fill_colour);
    trace(page, shape);
    cairo_fill(page);
  } else if (shape.fill == Fill::hatch) {
    set_colour(page, {0x777777});
    hatch(page, shape, 4.0, 0.6, true);
  } else if (shape.fill == Fill::doubt) {
    set_colour(page, drawing::kInk);
    hatch(page, shape, 3.0, 1.1, false);
  }
  if (shape.stroke > 0.0) {
    set_colour(page, shape.colour);
    cairo_set_line_width(page, shape.stroke);
    cairo_set_dash(page, shape.dash.data(), static_cast<int>(shape.dash.size()), 0.0);
    trace(page, shape);
    cairo_stroke(page);
    cairo_set_dash(page, nullptr, 0, 0.0);
  }
}

void draw(cairo_t* page, const drawing::Circle& circle) {
  cairo_new_path(page);
  cairo_arc(page, circle.centre.x, circle.centre.y, circle.radius, 0.0, 2.0 * std::numbers::pi);
  if (circle.filled) {
    set_colour(page, circle.fill_colour);
    cairo_fill_preserve(page);
  }
  set_colour(page, circle.colour);
  cairo_set_line_width(page, circle.stroke);
  cairo_stroke(page);
}

}  // namespace

std::string pdf(const drawing::Picture& picture, const PdfWords& words) {
  std::string bytes;
  cairo_surface_t* surface = cairo_pdf_surface_create_for_stream(append, &bytes, picture.width, picture.height);
  cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, words.title.c_str());
  // Without a date of its own the file would carry the clock's, and differ each time.
  cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE,
                                 words.date.empty() ? "" : (words.date + "T00:00:00").c_str());
  cairo_t* page = cairo_create(surface);
  for (const drawing::Item& item : picture.items) std::visit([&](const auto& shape) { draw(page, shape); }, item);
  cairo_show_page(page);
  cairo_destroy(page);
  cairo_surface_finish(surface);
  const cairo_status_t status = cairo_surface_status(surface);
  cairo_surface_destroy(surface);
  if (status != CAIRO_STATUS_SUCCESS)
    throw std::runtime_error(std::string("the PDF could not be made: ") + cairo_status_to_string(status));
  return bytes;
}

}  // namespace tillwrap::paper
