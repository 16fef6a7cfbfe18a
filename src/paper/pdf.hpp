// A picture as a PDF page: real text in embedded fonts, set by Pango and Cairo. Native doors only.
#pragma once

#include <string>

#include "drawing/picture.hpp"

namespace tillwrap::paper {

struct PdfWords {
  std::string title;
  std::string date;  // ISO 8601, of the document; empty: none
};

// The bytes of a one-page PDF as large as the picture. Throws std::runtime_error when Cairo reports an error.
std::string pdf(const drawing::Picture& picture, const PdfWords& words);

}  // namespace tillwrap::paper
