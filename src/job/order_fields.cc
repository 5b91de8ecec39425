#include "job/order_fields.h"

#include <algorithm>
#include <cctype>
#include <charconv>
#include <functional>
#include <optional>
#include <utility>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "base/setting.h"

namespace samelight::job {
namespace {

using record::Order;

Error Wrong(const std::string& what, const std::string& todo) {
  return {ErrorCode::kInvalidArgument, what, "", todo};
}

struct Field {
  OrderField told;
  std::function<Status(Order&, const std::string&)> set;
  std::function<std::string(const Order&)> get;
};

// One of a few words. The numbers of E are the places in `words`.
template <class E>
Field Choice(std::string name, std::vector<std::string> words, E Order::*member, std::string help) {
  Field field;
  field.told = {name, fmt::format("{}", fmt::join(words, "|")), std::move(help)};
  field.set = [=](Order& order, const std::string& word) -> Status {
    for (std::size_t i = 0; i < words.size(); ++i)
      if (words[i] == word) {
        order.*member = static_cast<E>(i);
        return {};
      }
    return Wrong(fmt::format("{} is '{}', but is one of {}", name, word, fmt::join(words, ", ")), "");
  };
  field.get = [=](const Order& order) { return words.at(static_cast<std::size_t>(order.*member)); };
  return field;
}

Field Switch(std::string name, std::string yes, std::string no, bool Order::*member, std::string help) {
  Field field;
  field.told = {name, yes + "|" + no, std::move(help)};
  field.set = [=](Order& order, const std::string& word) -> Status {
    if (word != yes && word != no)
      return Wrong(fmt::format("{} is '{}', but is {} or {}", name, word, yes, no), "");
    order.*member = word == yes;
    return {};
  };
  field.get = [=](const Order& order) { return order.*member ? yes : no; };
  return field;
}

std::optional<double> NumberOf(const std::string& word) {
  double value = 0;
  const auto [end, code] = std::from_chars(word.data(), word.data() + word.size(), value);
  if (code != std::errc() || end != word.data() + word.size()) return std::nullopt;
  return value;
}

// A number with its range. `whole`: without fractions. `factor`: what is stored times it is what is said.
Field Number(std::string name, std::string unit, double least, double most, bool whole,
             std::function<void(Order&, double)> put, std::function<double(const Order&)> get,
             std::string help) {
  Field field;
  std::string behind = unit == "NUMBER" ? "" : " " + unit;
  std::transform(behind.begin(), behind.end(), behind.begin(),
                 [](unsigned char c) { return std::tolower(c); });
  field.told = {name, unit, fmt::format("{} ({} to {}{})", help, least, most, behind)};
  field.set = [=](Order& order, const std::string& word) -> Status {
    const std::optional<double> value = NumberOf(word);
    if (!value || !(*value >= least && *value <= most) ||
        (whole && *value != static_cast<double>(static_cast<long>(*value))))
      return Wrong(fmt::format("{} is '{}', but is a {}number from {} to {}{}", name, word,
                               whole ? "whole " : "", least, most, behind),
                   "");
    put(order, *value);
    return {};
  };
  field.get = [=](const Order& order) { return fmt::format("{}", get(order)); };
  return field;
}

Field Text(std::string name, std::string Order::*member, std::string help) {
  Field field;
  field.told = {name, "TEXT", std::move(help)};
  field.set = [=](Order& order, const std::string& word) -> Status {
    order.*member = word;
    return {};
  };
  field.get = [=](const Order& order) { return order.*member; };
  return field;
}

// "30x20" in two numbers above 0; "0" or "none" gives zeros.
std::optional<std::pair<double, double>> Pair(const std::string& word) {
  if (word == "0" || word == "none") return std::pair(0.0, 0.0);
  const std::size_t at = word.find('x');
  if (at == std::string::npos) return std::nullopt;
  const auto a = NumberOf(word.substr(0, at)), b = NumberOf(word.substr(at + 1));
  if (!a || !b || !(*a > 0 && *b > 0)) return std::nullopt;
  return std::pair(*a, *b);
}

constexpr double kMostPixels = 65000;  // a JPEG holds 65500 (ITU-T T.81 allows 65535)
constexpr double kMostPrintCm = 1000;

Field LongSide() {
  return Number(
      "long-side", "PX", 0, kMostPixels, true,
      [](Order& o, double v) {
        o.size = {};
        o.size.long_side_px = static_cast<int>(v);
      },
      [](const Order& o) { return static_cast<double>(o.size.long_side_px); },
      "pixels on the longer side, never enlarged; 0 leaves the size as it is");
}

Field Box() {
  Field field;
  field.told = {"pixels", "WIDTHxHEIGHT",
                "fit into a box of so many pixels, lying or standing as the picture does; 0 for no box"};
  field.set = [](Order& order, const std::string& word) -> Status {
    const auto pair = Pair(word);
    if (!pair || pair->first > kMostPixels || pair->second > kMostPixels)
      return Wrong(fmt::format("pixels is '{}', but is a width and a height", word),
                   "write, for instance, 3000x2000");
    order.size = {};
    order.size.box_width_px = static_cast<int>(pair->first);
    order.size.box_height_px = static_cast<int>(pair->second);
    return {};
  };
  field.get = [](const Order& o) {
    return o.size.box_width_px == 0 ? std::string("0")
                                    : fmt::format("{}x{}", o.size.box_width_px, o.size.box_height_px);
  };
  return field;
}

Field Print() {
  Field field;
  field.told = {"print", "CMxCM",
                "fit into a print of so many centimetres at the order's dpi, lying or standing as the "
                "picture does; 0 for no print"};
  field.set = [](Order& order, const std::string& word) -> Status {
    const auto pair = Pair(word);
    if (!pair || pair->first > kMostPrintCm || pair->second > kMostPrintCm)
      return Wrong(fmt::format("print is '{}', but is a width and a height in centimetres", word),
                   "write, for instance, 30x20");
    order.size = {};
    order.size.print_width_cm = pair->first;
    order.size.print_height_cm = pair->second;
    return {};
  };
  field.get = [](const Order& o) {
    return o.size.print_width_cm == 0 ? std::string("0")
                                      : fmt::format("{}x{}", o.size.print_width_cm, o.size.print_height_cm);
  };
  return field;
}

const std::vector<std::string>& PartNames() {
  static const std::vector<std::string> names = {"stem", "number", "light", "date",
                                                 "time", "body",   "roll",  "label"};
  return names;
}

Field Names() {
  Field field;
  field.told = {
      "names", "PART,...",
      fmt::format("what files are called: parts out of {}, joined by '-'", fmt::join(PartNames(), ", "))};
  field.set = [](Order& order, const std::string& text) -> Status {
    std::vector<record::NamePart> parts;
    for (std::size_t at = 0; at <= text.size();) {
      const std::size_t end = std::min(text.find(',', at), text.size());
      const std::string word = text.substr(at, end - at);
      const auto it = std::find(PartNames().begin(), PartNames().end(), word);
      if (it == PartNames().end())
        return Wrong(
            fmt::format("'{}' is no part of a name", word),
            fmt::format("the parts are {}, with a comma between them", fmt::join(PartNames(), ", ")));
      parts.push_back(static_cast<record::NamePart>(it - PartNames().begin()));
      at = end + 1;
    }
    order.names = std::move(parts);
    return {};
  };
  field.get = [](const Order& order) {
    std::vector<std::string> words;
    for (const record::NamePart part : order.names)
      words.push_back(PartNames().at(static_cast<std::size_t>(part)));
    return fmt::format("{}", fmt::join(words, ","));
  };
  return field;
}

std::vector<Field> MakeFields() {
  const Setting& quality = *FindSetting("quality");
  const auto percent = [](double Order::*member) {
    return std::pair([=](Order& o, double v) { o.*member = v / 100; },
                     [=](const Order& o) { return o.*member * 100; });
  };
  const auto amount = percent(&Order::grain_amount), size = percent(&Order::grain_size);
  return {
      Choice("format", {"jpeg", "tiff8", "tiff16", "png", "png16"}, &Order::format,
             "kind of the delivered files"),
      Number(
          "quality", "NUMBER", quality.least, quality.most, true,
          [](Order& o, double v) { o.quality = static_cast<int>(v); },
          [](const Order& o) { return static_cast<double>(o.quality); }, quality.help + ", usually 95"),
      Choice("subsampling", {"444", "422", "420"}, &Order::sampling,
             "colour of JPEG files: 444 full, 422 half across, 420 half both ways"),
      Choice("space", {"srgb", "display-p3", "adobe-rgb", "rec2020", "romm"}, &Order::space,
             "colour space, with its profile in the file"),
      LongSide(),
      Box(),
      Print(),
      Number(
          "dpi", "DPI", 1, 4800, false, [](Order& o, double v) { o.dpi = v; },
          [](const Order& o) { return o.dpi; },
          "pixels per inch: of prints, and as written into the files; usually 300"),
      Names(),
      Text("label", &Order::label, "the words of the part label of a name"),
      Switch("folders", "light", "none", &Order::folder_per_light, "a folder for each light, or all in one"),
      Choice("pictures", {"frames", "scans", "both"}, &Order::pictures,
             "what is delivered; both lie in one running order, a scan beside its frame"),
      Choice("scans", {"untouched", "fitted"}, &Order::scans,
             "scans as they came from the lab, byte by byte, or fitted to size, space and format with their "
             "own colours"),
      Number(
          "rating", "NUMBER", -1, 5, true, [](Order& o, double v) { o.least_rating = static_cast<int>(v); },
          [](const Order& o) { return static_cast<double>(o.least_rating); },
          "least rating, from the file's metadata; no rating counts as 0, rejected is -1"),
      Switch("crop", "on", "off", &Order::crop, "as framed by you, or by an editor before, or whole"),
      Choice("tones", {"colour", "black-and-white"}, &Order::tones,
             "black-and-white has tone and grain of the session's black-and-white rolls"),
      Switch("grain", "on", "off", &Order::grain, "the film's grain on the frames"),
      Number("grain-amount", "%", 0, 400, false, amount.first, amount.second,
             "strength of the grain against the scans'"),
      Number("grain-size", "%", 25, 400, false, size.first, size.second,
             "size of the grain against the scans'"),
      Switch("acutance", "on", "off", &Order::acutance, "edges as sharp as the scans'"),
      Number(
          "sharpening", "%", 0, 200, false, [](Order& o, double v) { o.sharpening = v / 100; },
          [](const Order& o) { return o.sharpening * 100; },
          "the finest detail made stronger, for the delivered size"),
      Switch("metadata", "copied", "none", &Order::metadata, "capture metadata of the original"),
      Switch("place", "kept", "dropped", &Order::place, "where a picture was taken, as part of its metadata"),
      Text("copyright", &Order::copyright, "copyright line, instead of the original's"),
  };
}

const std::vector<Field>& Fields() {
  static const std::vector<Field> fields = MakeFields();
  return fields;
}

}  // namespace

const std::vector<OrderField>& OrderFields() {
  static const std::vector<OrderField> told = [] {
    std::vector<OrderField> list;
    for (const Field& field : Fields()) list.push_back(field.told);
    return list;
  }();
  return told;
}

Status SetField(Order& order, const std::string& field, const std::string& word) {
  for (const Field& f : Fields())
    if (f.told.name == field) return f.set(order, word);
  return Wrong(fmt::format("an order has no '{}'", field), "`samelight order --help` lists what it has");
}

std::string FieldText(const Order& order, const std::string& field) {
  for (const Field& f : Fields())
    if (f.told.name == field) return f.get(order);
  return {};
}

std::string Told(const Order& order) {
  const Order plain;
  std::vector<std::string> said;
  for (const Field& f : Fields())
    if (f.get(order) != f.get(plain)) said.push_back(fmt::format("{} {}", f.told.name, f.get(order)));
  return said.empty() ? "as usual" : fmt::format("{}", fmt::join(said, ", "));
}

}  // namespace samelight::job
