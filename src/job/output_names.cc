#include "job/output_names.h"

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <unordered_set>

#include <fmt/format.h>

#include "base/fold_case.h"
#include "job/running_order.h"

namespace samelight::job {
namespace {

using record::NamePart;
using record::Photo;

std::string Lower(std::string text) {
  for (char& c : text)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return text;
}

// A part, and a whole name: file systems take 255 bytes, of which "~12", an ending and what stands around a
// name while its file is written need some.
constexpr std::size_t kMostPart = 100, kMostName = 200;

// Cut before a UTF-8 sequence.
void Shorten(std::string& text, std::size_t most) {
  if (text.size() <= most) return;
  while (most > 0 && (static_cast<unsigned char>(text[most]) & 0xc0) == 0x80) --most;
  text.resize(most);
}

// Allowed everywhere: no separators, no control characters, no leading dot, no dot or space at the end.
std::string Clean(std::string text) {
  for (char& c : text)
    if (static_cast<unsigned char>(c) < 32 || c == 127 ||
        std::string_view("/\\:*?\"<>|").find(c) != std::string_view::npos)
      c = '_';
  Shorten(text, kMostPart);
  while (!text.empty() && (text.back() == '.' || text.back() == ' ')) text.pop_back();
  if (!text.empty() && text.front() == '.') text.front() = '_';
  return text;
}

// Windows keeps these for devices, with any ending (its documentation, "Naming Files, Paths, and
// Namespaces").
bool MeansADevice(const std::string& name) {
  const std::string stem = Lower(name.substr(0, name.find('.')));
  if (stem.size() == 4 && stem[3] >= '0' && stem[3] <= '9')
    return stem.starts_with("com") || stem.starts_with("lpt");
  return stem == "con" || stem == "prn" || stem == "aux" || stem == "nul";
}

class Namer {
 public:
  Namer(const record::Order& order, const NameSource& source) : order_(order), source_(source) {
    for (std::size_t i = 0; i < source.running.size(); ++i)
      number_[source.running[i]->id] = static_cast<long>(i) + 1;
    digits_ = std::max<std::size_t>(3, std::to_string(source.running.size()).size());
    for (const record::Light& light : *source.lights)
      for (const auto* members : {&light.frames, &light.scans})
        for (const PhotoId id : *members) light_[id] = light.name;
    for (const record::Roll& roll : *source.rolls) roll_[roll.id] = roll.name;
  }
  std::string Path(const Photo& photo) const {
    std::string name;
    for (const NamePart part : order_.names) {
      const std::string text = Clean(Part(photo, part));
      if (text.empty()) continue;
      if (!name.empty()) name += '-';
      name += text;
    }
    Shorten(name, kMostName);
    if (name.empty()) name = "picture";
    if (MeansADevice(name)) name += '_';
    if (!order_.folder_per_light) return name;
    std::string light = Clean(LightOf(photo));
    if (MeansADevice(light)) light += '_';
    return (light.empty() ? "no light" : light) + "/" + name;
  }

 private:
  std::string LightOf(const Photo& photo) const {
    const auto it = light_.find(photo.id);
    return it == light_.end() ? std::string() : it->second;
  }
  std::string Part(const Photo& photo, NamePart part) const {
    switch (part) {
      case NamePart::kStem:
        return std::filesystem::path(photo.path).stem().string();
      case NamePart::kNumber:
        return fmt::format("{:0{}}", number_.at(photo.id), digits_);
      case NamePart::kLight:
        return LightOf(photo);
      case NamePart::kDate:
      case NamePart::kTime: {
        const auto time = SessionTime(photo, *source_.clocks);
        if (!time) return {};
        using namespace std::chrono;
        const sys_seconds at(floor<seconds>(microseconds(*time)));
        const auto day = floor<days>(at);
        if (part == NamePart::kDate) {
          const year_month_day date(day);
          return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(date.year()),
                             static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()));
        }
        const auto s = (at - day).count();
        return fmt::format("{:02}.{:02}.{:02}", s / 3600, s / 60 % 60, s % 60);
      }
      case NamePart::kBody:
        return photo.role == record::Role::kFrame ? record::BodyName(photo) : std::string();
      case NamePart::kRoll: {
        const auto it = roll_.find(photo.roll);
        return it == roll_.end() ? std::string() : it->second;
      }
      case NamePart::kLabel:
        return order_.label;
    }
    return {};
  }

  const record::Order& order_;
  const NameSource& source_;
  std::unordered_map<PhotoId, long> number_;
  std::unordered_map<PhotoId, std::string> light_;
  std::unordered_map<RollId, std::string> roll_;
  std::size_t digits_ = 3;
};

}  // namespace

std::unordered_map<PhotoId, std::string> OutputNames(const record::Order& order, const NameSource& source) {
  const Namer namer(order, source);
  std::vector<const Photo*> photos = source.running;
  std::sort(photos.begin(), photos.end(), [](const Photo* a, const Photo* b) {
    const bool a_scan = a->role == record::Role::kScan, b_scan = b->role == record::Role::kScan;
    return a_scan != b_scan ? b_scan : a->id < b->id;
  });
  std::unordered_map<PhotoId, std::string> names;
  std::unordered_set<std::string> taken;
  for (const Photo* photo : photos) {
    const std::string path = namer.Path(*photo);
    std::string name = path;
    for (int i = 2; !taken.insert(FoldCase(name)).second; ++i) name = fmt::format("{}~{}", path, i);
    names[photo->id] = name;
  }
  return names;
}

}  // namespace samelight::job
