#include "codec/lens.h"

#include <lensfun/lensfun.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "codec/orient.h"

namespace samelight::codec {
namespace {

// Focus distance when the file tells none: far (common practice; vignetting data hardly depends on it beyond
// metres).
constexpr float kFar_m = 1000;

struct Database {
  std::mutex lock;  // look-ups sort inside the library
  std::unique_ptr<lfDatabase> base = std::make_unique<lfDatabase>();
  // The packaged data, not a person's own additions: the same files must give the same pictures everywhere.
  bool loaded = base->LoadDirectory((SAMELIGHT_LENS_DATA + std::to_string(LF_MAX_DATABASE_VERSION)).c_str());
};

Database& TheDatabase() {
  static Database database;
  return database;
}

struct Known {
  std::unique_ptr<lfLens> lens;  // a copy of our own
  float crop = 1;
};

// Runs of letters and of digits in lower case, sorted, without what names write or leave out at will ("mm",
// "f", and the maker's name).
std::vector<std::string> Words(const std::string& name, const std::string& maker) {
  std::vector<std::string> words;
  int kind = 0;
  for (std::size_t i = 0; i < name.size(); ++i) {
    const auto c = static_cast<unsigned char>(name[i]);
    const bool point =
        c == '.' && kind == 2 && i + 1 < name.size() && std::isdigit(static_cast<unsigned char>(name[i + 1]));
    const int now = std::isalpha(c) ? 1 : std::isdigit(c) || point ? 2 : 0;
    if (now != 0 && now != kind) words.emplace_back();
    if (now != 0) words.back() += static_cast<char>(std::tolower(c));
    kind = now;
  }
  const std::vector<std::string> ignored = maker.empty() ? std::vector<std::string>{} : Words(maker, "");
  std::erase_if(words, [&](const std::string& w) {
    return w == "mm" || w == "f" || std::find(ignored.begin(), ignored.end(), w) != ignored.end();
  });
  std::sort(words.begin(), words.end());
  return words;
}

// The database compares names loosely and gives an older or newer lens when the right one is missing: a wrong
// correction is worse than none, so all words must agree.
Known Find(const record::Capture& capture) {
  Known known;
  if (capture.body.empty() || capture.lens.empty() || !capture.focal_mm) return known;
  Database& database = TheDatabase();
  const std::lock_guard guard(database.lock);
  if (!database.loaded) return known;
  const lfCamera** cameras =
      database.base->FindCameras(capture.make.empty() ? nullptr : capture.make.c_str(), capture.body.c_str());
  if (cameras == nullptr) return known;
  const lfCamera* camera = cameras[0];
  lf_free(cameras);
  const lfLens** lenses = database.base->FindLenses(camera, nullptr, capture.lens.c_str());
  if (lenses == nullptr) return known;
  for (int i = 0; lenses[i] != nullptr && !known.lens; ++i) {
    const lfLens& lens = *lenses[i];
    const std::string maker = lens.Maker == nullptr ? "" : lens.Maker;
    if (lens.Model == nullptr || Words(lens.Model, maker) != Words(capture.lens, maker)) continue;
    known.lens = std::make_unique<lfLens>(lens);
    known.crop = camera->CropFactor;
  }
  lf_free(lenses);
  return known;
}

// The rows of a picture that are needed at one time, in floats and without vignetting; each is made once as
// long as the rows asked for move on.
class Rows {
 public:
  // `vignetting`: takes it off; null: there is none.
  Rows(const image::Source& from, lfModifier* vignetting) : from_(from), vignetting_(vignetting) {}
  int width() const { return from_.width(); }
  int height() const { return from_.height(); }
  bool changed() const { return changed_; }
  // Rows `first` to `last`, both inside the picture, can be had from At() until the next call.
  void Hold(int first, int last) {
    const auto count = static_cast<std::size_t>(last - first + 1);
    if (count > held_.size()) {
      held_.assign(2 * count, -1);
      values_.resize(2 * count * row());
    }
    for (int y = first; y <= last; ++y) {
      const std::size_t slot = Slot(y);
      if (held_[slot] == y) continue;
      held_[slot] = y;
      float* to = values_.data() + slot * row();
      const float* values = from_.Row(0, y, width(), to);
      if (values != to) std::copy(values, values + row(), to);
      if (vignetting_ != nullptr)
        changed_ |= vignetting_->ApplyColorModification(to, 0, static_cast<float>(y), width(), 1,
                                                        LF_CR_3(RED, GREEN, BLUE),
                                                        static_cast<int>(row() * sizeof(float)));
    }
  }
  const float* At(int y) const { return values_.data() + Slot(y) * row(); }

 private:
  std::size_t row() const { return 3 * static_cast<std::size_t>(width()); }
  std::size_t Slot(int y) const { return static_cast<std::size_t>(y) % held_.size(); }
  const image::Source& from_;
  lfModifier* vignetting_;
  bool changed_ = false;
  std::vector<int> held_;  // which row each slot has; -1: none
  std::vector<float> values_;
};

// Cubic convolution with a = -1/2 (Keys 1981), borders repeated. The rows that it needs are held.
float Sample(const Rows& in, float x, float y, int channel) {
  x = std::clamp(x, 0.0f, static_cast<float>(in.width() - 1));
  y = std::clamp(y, 0.0f, static_cast<float>(in.height() - 1));
  const int x0 = static_cast<int>(x), y0 = static_cast<int>(y);
  const auto weights = [](float t, float w[4]) {
    w[0] = ((-0.5f * t + 1.0f) * t - 0.5f) * t;
    w[1] = (1.5f * t - 2.5f) * t * t + 1.0f;
    w[2] = ((-1.5f * t + 2.0f) * t + 0.5f) * t;
    w[3] = (0.5f * t - 0.5f) * t * t;
  };
  float wx[4], wy[4];
  weights(x - static_cast<float>(x0), wx);
  weights(y - static_cast<float>(y0), wy);
  float sum = 0;
  for (int j = 0; j < 4; ++j) {
    const float* row = in.At(std::clamp(y0 + j - 1, 0, in.height() - 1));
    float line = 0;
    for (int i = 0; i < 4; ++i) line += wx[i] * row[3 * std::clamp(x0 + i - 1, 0, in.width() - 1) + channel];
    sum += wy[j] * line;
  }
  return sum;
}

// One row of the result from the places that it shows: x and y for each channel of each pixel.
void SampleRow(Rows& in, const std::vector<float>& places, float* out) {
  const auto inside = [&in](float y) {
    return static_cast<int>(std::clamp(y, 0.0f, static_cast<float>(in.height() - 1)));
  };
  int first = in.height() - 1, last = 0;
  for (std::size_t i = 1; i < places.size(); i += 2) {
    first = std::min(first, inside(places[i]));
    last = std::max(last, inside(places[i]));
  }
  in.Hold(std::max(first - 1, 0), std::min(last + 2, in.height() - 1));
  for (std::size_t i = 0; i < places.size(); i += 2)
    out[i / 2] = Sample(in, places[i], places[i + 1], static_cast<int>(i / 2 % 3));
}

}  // namespace

bool LensKnown(const record::Capture& capture) { return Find(capture).lens != nullptr; }

bool CorrectLens(const record::Capture& capture, const image::Source& stored, int orientation,
                 image::RgbF& upright, const Cancel& cancel) {
  const int width = stored.width(), height = stored.height();
  Turned(orientation) ? upright.Resize(height, width) : upright.Resize(width, height);
  if (stored.empty()) return false;
  const Known known = Find(capture);
  int done = 0;
  std::optional<lfModifier> modifier;
  if (known.lens) {
    int wanted = LF_MODIFY_TCA | LF_MODIFY_DISTORTION | LF_MODIFY_SCALE;
    if (capture.aperture) wanted |= LF_MODIFY_VIGNETTING;
    modifier.emplace(known.lens.get(), known.crop, width, height);
    done = modifier->Initialize(known.lens.get(), LF_PF_F32, static_cast<float>(*capture.focal_mm),
                                static_cast<float>(capture.aperture.value_or(8)),
                                static_cast<float>(capture.focus_m.value_or(kFar_m)), 0.0f, known.lens->Type,
                                wanted, false);
  }
  bool moved = (done & (LF_MODIFY_TCA | LF_MODIFY_DISTORTION)) != 0;
  Rows rows(stored, (done & LF_MODIFY_VIGNETTING) != 0 ? &*modifier : nullptr);
  constexpr int kBand = 16;
  std::vector<float> places(static_cast<std::size_t>(width) * 6),
      band(static_cast<std::size_t>(width) * 3 * kBand);
  for (int y = 0; y < height; y += kBand) {
    const int count = std::min(kBand, height - y);
    for (int r = 0; r < count && !cancel.requested(); ++r) {
      float* out = band.data() + static_cast<std::size_t>(r) * static_cast<std::size_t>(width) * 3;
      moved = moved && modifier->ApplySubpixelGeometryDistortion(0, static_cast<float>(y + r), width, 1,
                                                                 places.data());
      if (moved) {
        SampleRow(rows, places, out);
      } else {
        rows.Hold(y + r, y + r);
        std::copy(rows.At(y + r), rows.At(y + r) + static_cast<std::size_t>(width) * 3, out);
      }
    }
    if (cancel.requested()) break;
    PlaceRows(band.data(), y, count, width, height, orientation, upright);
  }
  return moved || rows.changed();
}

}  // namespace samelight::codec
