#include <algorithm>
#include <cmath>

#include "codec/dng.h"
#include "codec/write.h"
#include "simulate/picture_writer.h"
#include "simulate/random.h"
#include "simulate/srgb.h"

namespace samelight::simulate {
namespace fs = std::filesystem;
namespace {

record::Capture CaptureOf(const Plan& plan, const PlannedFrame& frame, const Camera& camera,
                          const Lighting& light, int focal_mm) {
  record::Capture capture;
  // 15 June of an invented year by the body's own clock; 1970-01-01 to 2031-06-15 is 22445 days.
  const double time_s = 22445.0 * 86400 + frame.time_s + (frame.body == 1 ? plan.clock_offset_s : 0);
  capture.time_us = static_cast<std::int64_t>(std::llround(time_s * 100)) * 10000;
  const double level = light.level_ev;
  const double iso = level > -3 ? 100 : level > -5 ? 400 : level > -8 ? 800 : level > -9.5 ? 1600 : 3200;
  const double aperture = level > -1 ? 5.6 : level > -3.5 ? 4 : level > -8 ? 2.8 : 1.8;
  // EV 15 at ISO 100 in full sun (common practice); the setting is off by exposure_ev.
  const double ev = 15 + level - frame.exposure_ev + std::log2(iso / 100);
  capture.exposure_time_s = aperture * aperture / std::exp2(ev);
  capture.aperture = aperture;
  capture.iso = iso;
  capture.focal_mm = focal_mm;
  capture.flash = frame.flash;
  capture.make = camera.make;
  capture.body = camera.model;
  capture.serial = camera.serial;
  capture.lens = camera.lens;
  return capture;
}

// As stored by a body held upright: a quarter turn that EXIF orientation 6 (TIFF 6.0, tag 274) takes back.
image::RgbF TurnedLeft(const image::RgbF& upright) {
  image::RgbF out(upright.height(), upright.width());
  for (int y = 0; y < out.height(); ++y)
    for (int x = 0; x < out.width(); ++x)
      std::copy_n(upright.at(upright.width() - 1 - y, x), 3, out.at(x, y));
  return out;
}

Status WriteJpegFrame(const fs::path& path, const image::RgbU8& picture, const record::Capture& capture) {
  // Metadata travel from file to file: a tiny raw file lends them.
  codec::DngSpec spec;
  spec.capture = capture;
  image::Raster<std::uint16_t, 1> dot(64, 64);
  std::fill(dot.data().begin(), dot.data().end(), static_cast<std::uint16_t>(1000));
  fs::path lender = path;
  lender += ".dng";
  if (Status status = codec::WriteDng(lender, dot, spec); !status.ok()) return status;
  codec::WriteOptions options;
  options.quality = 92;
  options.subsampling = codec::Subsampling::k420;
  Result<std::shared_ptr<const codec::Metadata>> metadata = codec::KeepMetadata(lender);
  if (!metadata.ok()) return metadata.error();
  options.metadata = *metadata;
  Status status = codec::WritePicture(path, picture, options);
  std::error_code ignored;
  fs::remove(lender, ignored);
  return status;
}

Status WritePng(const fs::path& path, const image::RgbF& srgb_linear) {
  codec::WriteOptions options;
  options.format = codec::Format::kPng;
  return codec::WritePicture(path, EncodeSrgb(srgb_linear), options);
}

}  // namespace

Result<FrameFacts> WriteFrame(const fs::path& dir, const SessionOptions& options, const Plan& plan, int index,
                              const Camera& camera, const Studio& studio, const Stock& stock, const Lab& lab,
                              const LabSetting& mean) {
  const PlannedFrame& frame = plan.frames[index];
  const Moment& moment = plan.moments[frame.moment];
  const Sight sight{&moment, moment.photograph, &frame.view, frame.flash};
  const Size size = SizeFor(kFrameAspect, options.frame_long_side_px, frame.portrait);
  Vec3 neutral;
  const image::RgbF response = studio.Expose(camera.sees, sight, studio.LookAt(sight, size), &neutral);
  const auto capture =
      CaptureOf(plan, frame, camera, studio.light().lighting, frame.body == 0 ? 35 + 5 * (index % 7) : 85);
  Shot shot;
  shot.iso = *capture.iso;
  shot.exposure_ev = frame.exposure_ev;
  shot.noise_seed = options.seed * 1000003 + index;
  shot.flare = options.flare ? 0.03 : 0;
  shot.as_shot_neutral = GuessNeutral(camera, response, neutral, options.seed * 13 + index);
  const image::RgbF linear = Illuminate(camera, response, neutral[1], shot);
  Status status;
  if (frame.jpeg) {
    status = WriteJpegFrame(dir / frame.file, Develop(camera, linear, shot), capture);
  } else {
    codec::DngSpec spec;
    spec.camera_from_xyz = camera.camera_from_xyz;
    spec.camera_from_xyz_a = camera.camera_from_xyz_a;
    spec.as_shot_neutral = shot.as_shot_neutral;
    spec.orientation = frame.portrait ? 6 : 1;
    spec.capture = capture;
    status = codec::WriteDng(dir / frame.file,
                             Mosaic(camera, frame.portrait ? TurnedLeft(linear) : linear, shot, spec), spec);
  }
  if (!status.ok()) return status.error();

  FrameFacts facts;
  facts.as_shot_neutral = shot.as_shot_neutral;
  facts.true_neutral = {neutral[0] / neutral[1], 1, neutral[2] / neutral[1]};
  if (!options.truth_pictures) return facts;
  // The same view on film.
  const Size small =
      SizeFor(kFrameAspect, std::min(kTruthLongSidePx, options.frame_long_side_px), frame.portrait);
  Development how;
  how.over_ev = studio.film_over_ev();
  const image::RgbF dyes = Develop(stock, studio.OnFilm(stock, sight, studio.LookAt(sight, small)), how);
  const std::string tail = frame.file.substr(frame.file.find('/')) + ".png";
  facts.truth = "truth/frames" + tail;
  if (status = WritePng(dir / facts.truth, lab.Print(lab.Scan(dyes), mean)); !status.ok())
    return status.error();
  const image::RgbF skin = studio.SkinMask(sight, SizeFor(kFrameAspect, 400, frame.portrait));
  if (!skin.empty()) {
    facts.skin = "truth/skin" + tail;
    if (status = WritePng(dir / facts.skin, skin); !status.ok()) return status.error();
  }
  return facts;
}

}  // namespace samelight::simulate
