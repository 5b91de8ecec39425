#include "exchange/clf.h"

#include <fmt/format.h>

namespace samelight::exchange {
namespace {

std::string Escaped(const std::string& text) {
  std::string out;
  for (const char c : text) switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      default:
        out += c;
    }
  return out;
}

}  // namespace

std::string ClfText(const LookTable& table, const std::string& name) {
  std::string out = fmt::format(
      R"(<?xml version="1.0" encoding="UTF-8"?>
<ProcessList xmlns="urn:AMPAS:CLF:v3.0" id="look" name="{}" compCLFversion="3.0">
  <Description>The look of a film, learned from its scans.</Description>
  <InputDescriptor>Scene-linear ITU-R BT.2020, D65, mid-grey at 0.18</InputDescriptor>
  <OutputDescriptor>sRGB, IEC 61966-2-1</OutputDescriptor>
  <Matrix inBitDepth="32f" outBitDepth="32f">
    <Array dim="3 3">
)",
      Escaped(name));
  for (const auto& row : table.matrix) out += fmt::format("{:.9g} {:.9g} {:.9g}\n", row[0], row[1], row[2]);
  // linToLog: logSideSlope * log2(linSideSlope * x + linSideOffset) + logSideOffset. What is below 0 is cut
  // first, since the logarithm ends soon after.
  const Shaper& s = table.shaper;
  const double slope = 1 / (s.high() - s.low());
  out += fmt::format(
      R"(    </Array>
  </Matrix>
  <Range inBitDepth="32f" outBitDepth="32f">
    <minInValue>0</minInValue>
    <maxInValue>{0:.9g}</maxInValue>
    <minOutValue>0</minOutValue>
    <maxOutValue>{0:.9g}</maxOutValue>
  </Range>
  <Log inBitDepth="32f" outBitDepth="32f" style="linToLog">
    <LogParams base="2" linSideSlope="1" linSideOffset="{1:.9g}" logSideSlope="{2:.9g}" logSideOffset="{3:.9g}"/>
  </Log>
  <LUT3D inBitDepth="32f" outBitDepth="32f" interpolation="tetrahedral">
    <Array dim="{4} {4} {4} 3">
)",
      s.most, s.offset, slope, -s.low() * slope, table.nodes);
  for (std::size_t i = 0; i < table.rgb.size(); i += 3)
    out += fmt::format("{:.6g} {:.6g} {:.6g}\n", table.rgb[i], table.rgb[i + 1], table.rgb[i + 2]);
  out += "    </Array>\n  </LUT3D>\n</ProcessList>\n";
  return out;
}

}  // namespace samelight::exchange
