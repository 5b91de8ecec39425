#include "simulate/score.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>
#include <optional>

#include <fmt/format.h>

#include "base/file.h"
#include "base/task_pool.h"
#include "codec/read.h"
#include "color/lab.h"
#include "color/space.h"
#include "image/resize.h"
#include "simulate/srgb.h"

namespace samelight::simulate {
namespace fs = std::filesystem;
namespace {

using nlohmann::json;
constexpr int kLongSide = 400;
// Meters put an 18 % grey at about 0.12 of saturation (ISO 2720 with K = 12.5; the factor is common
// practice).
constexpr double kRawGain = 0.18 / 0.12;

image::RgbF ClippedSrgb(const image::RgbF& rec2020, double gain) {
  const Mat3 m = color::RgbFromRgb(color::Space::kSrgb, color::Space::kRec2020);
  image::RgbF out(rec2020.width(), rec2020.height());
  for (std::size_t i = 0; i < out.pixels(); ++i) {
    const float* p = rec2020.data().data() + 3 * i;
    const Vec3 rgb = Mul(m, Vec3{p[0] * gain, p[1] * gain, p[2] * gain});
    for (int c = 0; c < 3; ++c) out.data()[3 * i + c] = static_cast<float>(std::clamp(rgb[c], 0.0, 1.0));
  }
  return out;
}

Result<json> ReadJson(const fs::path& path) {
  auto bytes = ReadFile(path, 1u << 28);
  if (!bytes.ok()) return bytes.error();
  json value = json::parse(bytes->begin(), bytes->end(), nullptr, false);
  if (value.is_discarded() || !value.is_object())
    return Error{ErrorCode::kDamaged, "not a JSON object", path.string(),
                 "run the step that writes it again"};
  return value;
}

std::string TextAt(const json& object, const char* key) {
  const auto it = object.find(key);
  return it != object.end() && it->is_string() ? it->get<std::string>() : std::string();
}

// True when `path` is `tail` or ends with "/" and `tail`.
bool EndsWith(const std::string& path, const std::string& tail) {
  return path.ends_with(tail) && (path.size() == tail.size() || path[path.size() - tail.size() - 1] == '/');
}

Vec3 MeanLabStep(const image::RgbF& a, const image::RgbF& b) {
  Vec3 sum{};
  const Mat3 m = color::XyzFromRgb(color::Space::kSrgb);
  const Vec3 white = color::XyzFromXy(color::kD65);
  for (std::size_t i = 0; i < a.pixels(); ++i) {
    const auto lab = [&](const image::RgbF& picture) {
      const float* p = picture.data().data() + 3 * i;
      return color::LabFromXyz(Mul(m, Vec3{p[0], p[1], p[2]}), white);
    };
    const Vec3 x = lab(a), y = lab(b);
    for (int c = 0; c < 3; ++c) sum[c] += (x[c] - y[c]) / a.pixels();
  }
  return sum;
}

double Quantile(std::vector<double> values, double at) {
  if (values.empty()) return 0;
  const auto nth = values.begin() + static_cast<std::ptrdiff_t>(at * (values.size() - 1) + 0.5);
  std::nth_element(values.begin(), nth, values.end());
  return *nth;
}

struct FrameResult {
  double delivered = 0, before = 0;
  Vec3 step{}, step_before{};
  double skin = -1, skin_before = -1;
};

double Evenness(const std::map<int, std::vector<Vec3>>& steps_of_light) {
  double sum = 0;
  std::size_t count = 0;
  for (const auto& [light, steps] : steps_of_light) {
    Vec3 mean{};
    for (const Vec3& s : steps)
      for (int c = 0; c < 3; ++c) mean[c] += s[c] / steps.size();
    for (const Vec3& s : steps) {
      for (int c = 0; c < 3; ++c) sum += (s[c] - mean[c]) * (s[c] - mean[c]);
      ++count;
    }
  }
  return count ? std::sqrt(sum / count) : 0;
}

}  // namespace

Result<image::RgbF> ReadDisplay(const fs::path& file, int long_side_px) {
  codec::ReadOptions options;
  options.at_least_long_side_px = long_side_px;
  auto picture = codec::ReadPicture(file, options);
  if (!picture.ok()) return picture.error();
  return ClippedSrgb(image::ShrinkTo(picture->pixels, long_side_px), 1);
}

Result<image::RgbF> AsTheCameraMadeIt(const fs::path& file, int long_side_px) {
  auto picture = codec::ReadPicture(file);
  if (!picture.ok()) return picture.error();
  const image::RgbF small = image::ShrinkTo(picture->pixels, long_side_px);
  if (!picture->scene_referred) return ClippedSrgb(small, 1);
  return ClippedSrgb(small, kRawGain);
}

Result<Score> ScoreRun(const fs::path& session_dir, const fs::path& out_dir, const Cancel& cancel) {
  auto truth = ReadJson(session_dir / "truth/truth.json");
  if (!truth.ok()) return truth.error();
  auto report = ReadJson(out_dir / "report.json");
  if (!report.ok()) return report.error();
  const json &frames = (*truth)["frames"], &scans = (*truth)["scans"], &lights = (*truth)["lights"];
  if (!frames.is_array() || !scans.is_array() || !lights.is_array() || !(*report)["frames"].is_array() ||
      !(*report)["scans"].is_array())
    return Error{ErrorCode::kDamaged, "truth.json or report.json lacks its lists", session_dir.string(), ""};

  Score score;
  std::vector<std::optional<FrameResult>> results(frames.size());
  std::vector<std::string> outputs(frames.size()), names(frames.size());
  for (std::size_t i = 0; i < frames.size(); ++i) {
    names[i] = TextAt(frames[i], "frame");
    for (const json& entry : (*report)["frames"])
      if (EndsWith(TextAt(entry, "path"), names[i])) outputs[i] = TextAt(entry, "output");
  }
  ParallelFor(frames.size(), cancel, [&](std::size_t i) {
    if (outputs[i].empty()) return;
    auto aim = ReadDisplay(session_dir / TextAt(frames[i], "truth"), kLongSide);
    auto before = AsTheCameraMadeIt(session_dir / names[i], kLongSide);
    auto delivered = ReadDisplay(out_dir / outputs[i], kLongSide);
    if (!aim.ok() || !before.ok() || !delivered.ok()) return;
    const image::RgbF a = image::ResizeTo(*delivered, aim->width(), aim->height());
    const image::RgbF b = image::ResizeTo(*before, aim->width(), aim->height());
    FrameResult r;
    r.delivered = MeanDifference(a, *aim);
    r.before = MeanDifference(b, *aim);
    r.step = MeanLabStep(a, *aim);
    r.step_before = MeanLabStep(b, *aim);
    if (const std::string skin = TextAt(frames[i], "skin"); !skin.empty())
      if (auto mask = ReadDisplay(session_dir / skin, kLongSide); mask.ok()) {
        const image::RgbF where = image::ResizeTo(*mask, aim->width(), aim->height());
        r.skin = MeanDifferenceWhere(a, *aim, where);
        r.skin_before = MeanDifferenceWhere(b, *aim, where);
      }
    results[i] = r;
  });
  if (cancel.requested()) return Error{ErrorCode::kCancelled, "stopped", "", ""};

  const auto add_group = [&](const std::string& name, auto&& belongs, bool skin) {
    std::vector<double> delivered, before;
    for (std::size_t i = 0; i < results.size(); ++i) {
      if (!results[i] || !belongs(frames[i]) || (skin && results[i]->skin < 0)) continue;
      delivered.push_back(skin ? results[i]->skin : results[i]->delivered);
      before.push_back(skin ? results[i]->skin_before : results[i]->before);
    }
    if (delivered.empty()) return;
    score.groups.push_back({name, static_cast<int>(delivered.size()), Quantile(delivered, 0.5),
                            Quantile(delivered, 0.9), Quantile(before, 0.5)});
  };
  const auto filmed = [&](const json& frame) {
    return lights.at(frame.value("light", 0)).value("filmed", false);
  };
  add_group(
      "all", [](const json&) { return true; }, false);
  add_group("lights with film", filmed, false);
  add_group(
      "lights without film", [&](const json& f) { return !filmed(f); }, false);
  add_group(
      "camera jpeg", [](const json& f) { return TextAt(f, "frame").ends_with(".jpg"); }, false);
  add_group(
      "skin", [](const json&) { return true; }, true);

  std::map<int, std::vector<Vec3>> steps, steps_before;
  for (std::size_t i = 0; i < results.size(); ++i) {
    if (!results[i]) {
      score.missing.push_back(names[i]);
      continue;
    }
    steps[frames[i].value("light", 0)].push_back(results[i]->step);
    steps_before[frames[i].value("light", 0)].push_back(results[i]->step_before);
  }
  score.evenness = Evenness(steps);
  score.evenness_before = Evenness(steps_before);

  // Pairs. Names in the report are short; its frames carry the paths.
  std::map<std::string, std::string> path_of_frame;
  for (const json& entry : (*report)["frames"]) path_of_frame[TextAt(entry, "frame")] = TextAt(entry, "path");
  for (const json& scan : scans) {
    const std::string file = TextAt(scan, "scan");
    const bool has_moment = TextAt(scan, "kind") == "moment";
    score.moment_scans += has_moment;
    for (const json& entry : (*report)["scans"]) {
      if (!EndsWith(TextAt(entry, "path"), file) || TextAt(entry, "kind") == "none" ||
          TextAt(entry, "frame").empty())
        continue;
      const std::string frame = path_of_frame[TextAt(entry, "frame")];
      const auto among = [&](const char* list) {
        for (const json& one : scan.value(list, json::array()))
          if (one.is_string() && EndsWith(frame, one.get<std::string>())) return true;
        return false;
      };
      if (among("moment_frames"))
        ++score.found;
      else if (among("light_frames"))
        score.nearby += TextAt(entry, "kind") == "moment";
      else
        score.wrong.push_back(
            {file, frame, entry["confidence"].is_number() ? entry["confidence"].get<double>() : 0});
    }
  }
  return score;
}

std::string TextOf(const Score& score) {
  std::string text = fmt::format("{:<22}{:>7}{:>11}{:>8}{:>9}\n", "CIEDE2000, median", "frames", "delivered",
                                 "p90", "before");
  for (const auto& g : score.groups)
    text += fmt::format("{:<22}{:>7}{:>11.2f}{:>8.2f}{:>9.2f}\n", g.name, g.frames, g.delivered,
                        g.delivered_p90, g.before);
  text +=
      fmt::format("evenness within a light {:.2f} (before {:.2f})\n", score.evenness, score.evenness_before);
  text += fmt::format("scans of a moment found {} of {}, another moment of the light {}, wrong {}\n",
                      score.found, score.moment_scans, score.nearby, score.wrong.size());
  for (const auto& w : score.wrong)
    text += fmt::format("  wrong: {} with {}, confidence {:.3f}\n", w.scan, w.frame, w.confidence);
  for (const auto& m : score.missing) text += fmt::format("  missing: {}\n", m);
  return text;
}

std::string JsonOf(const Score& score) {
  json out;
  for (const auto& g : score.groups)
    out["groups"].push_back({{"name", g.name},
                             {"frames", g.frames},
                             {"delivered", g.delivered},
                             {"delivered_p90", g.delivered_p90},
                             {"before", g.before}});
  out["evenness"] = score.evenness;
  out["evenness_before"] = score.evenness_before;
  out["pairs"] = {{"moment_scans", score.moment_scans},
                  {"found", score.found},
                  {"nearby", score.nearby},
                  {"wrong", json::array()}};
  for (const auto& w : score.wrong)
    out["pairs"]["wrong"].push_back({{"scan", w.scan}, {"frame", w.frame}, {"confidence", w.confidence}});
  out["missing"] = score.missing;
  return out.dump(2) + "\n";
}

}  // namespace samelight::simulate
