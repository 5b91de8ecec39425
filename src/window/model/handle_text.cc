#include "window/model/handle_text.h"

#include <cmath>

namespace samelight::window {

QString HandleText(double value, int digits) {
  const QString text = QString::number(std::abs(value), 'f', digits);
  const bool zero = text.toDouble() == 0;
  return zero ? text : (value < 0 ? QChar(0x2212) : QChar(u'+')) + text;
}

}  // namespace samelight::window
