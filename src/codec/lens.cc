#include "codec/lens.h"

#include <lensfun/lensfun.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

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

// Cubic convolution with a = -1/2 (Keys 1981), borders repeated.
float Sample(const image::RgbF& in, float x, float y, int channel) {
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
    const float* row = in.row(std::clamp(y0 + j - 1, 0, in.height() - 1));
    float line = 0;
    for (int i = 0; i < 4; ++i) line += wx[i] * row[3 * std::clamp(x0 + i - 1, 0, in.width() - 1) + channel];
    sum += wy[j] * line;
  }
  return sum;
}

}  // namespace

bool LensKnown(const record::Capture& capture) { return Find(capture).lens != nullptr; }

bool CorrectLens(const record::Capture& capture, image::RgbF& linear, const Cancel& cancel) {
  if (linear.empty()) return false;
  const Known known = Find(capture);
  if (!known.lens) return false;
  const int width = linear.width(), height = linear.height();
  lfModifier modifier(known.lens.get(), known.crop, width, height);
  int wanted = LF_MODIFY_TCA | LF_MODIFY_DISTORTION | LF_MODIFY_SCALE;
  if (capture.aperture) wanted |= LF_MODIFY_VIGNETTING;
  const int done = modifier.Initialize(known.lens.get(), LF_PF_F32, static_cast<float>(*capture.focal_mm),
                                       static_cast<float>(capture.aperture.value_or(8)),
                                       static_cast<float>(capture.focus_m.value_or(kFar_m)), 0.0f,
                                       known.lens->Type, wanted, false);
  bool changed = false;
  if (done & LF_MODIFY_VIGNETTING)
    for (int y = 0; y < height && !cancel.requested(); ++y)
      changed = modifier.ApplyColorModification(linear.row(y), 0, static_cast<float>(y), width, 1,
                                                LF_CR_3(RED, GREEN, BLUE),
                                                width * 3 * static_cast<int>(sizeof(float)));
  if (!(done & (LF_MODIFY_TCA | LF_MODIFY_DISTORTION))) return changed;
  image::RgbF out(width, height);
  std::vector<float> place(static_cast<std::size_t>(width) * 6);
  for (int y = 0; y < height && !cancel.requested(); ++y) {
    if (!modifier.ApplySubpixelGeometryDistortion(0, static_cast<float>(y), width, 1, place.data()))
      return changed;
    float* row = out.row(y);
    for (int x = 0; x < width; ++x)
      for (int c = 0; c < 3; ++c) {
        const float* p = place.data() + static_cast<std::size_t>(x) * 6 + 2 * c;
        row[3 * x + c] = Sample(linear, p[0], p[1], c);
      }
  }
  linear = std::move(out);
  return true;
}

}  // namespace samelight::codec
