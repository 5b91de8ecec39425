// For tests: a session in memory whose truth is known.
#pragma once

#include <gtest/gtest.h>

#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "pair/pairing.h"
#include "pair/reframe_testing.h"

namespace samelight::pair::testing {

// An invented session: scenes seen by digital bodies and by film, in memory.
class Session {
 public:
  PhotoId AddFrame(int scene, std::uint64_t seed, std::optional<double> time_s,
                   const std::string& body = "body one", double mired = 180) {
    Dice dice(seed);
    Rendering r{dice.Uniform(-1, 0.3), 0, 1, 0, 0.01, false};
    return AddFrame(SeenAgain(Scene(scene), Near(dice), r, seed), time_s, mired, body);
  }
  // A frame of any picture.
  PhotoId AddFrame(image::RgbF pixels, std::optional<double> time_s, double mired,
                   const std::string& body = "body one") {
    record::Photo photo =
        Photo(record::Role::kFrame, "digital/" + body + "/" + std::to_string(frames_.size()));
    photo.encoding = record::Encoding::kRaw;
    photo.capture.body = body;
    if (time_s) photo.capture.time_us = static_cast<std::int64_t>(*time_s * 1e6);
    const PhotoId id = Add(photo, std::move(pixels));
    cached_[id].measured.light.mired = mired;
    cached_[id].measured.light.confidence = 0.9;
    frames_.push_back(id);
    return id;
  }
  PhotoId AddScan(int scene, std::uint64_t seed, int roll = 0, bool mirrored = false) {
    Dice dice(seed);
    record::Photo photo =
        Photo(record::Role::kScan, "film/" + std::to_string(roll) + "/" + std::to_string(scans_.size()));
    photo.roll = RollId{roll};
    photo.roll_position = static_cast<int>(scans_.size());
    Framing f = Near(dice);
    f.mirrored = mirrored;
    const PhotoId id = Add(photo, SeenAgain(Scene(scene), f, AnotherRendering(dice), seed));
    scans_.push_back(id);
    return id;
  }
  Request MakeRequest() const {
    Request r;
    for (PhotoId id : scans_) r.scans.push_back({&photos_.at(id), &cached_.at(id)});
    for (PhotoId id : frames_) r.frames.push_back({&photos_.at(id), &cached_.at(id)});
    r.word = word;
    r.kept = compared.get();
    r.load = [this](PhotoId id) -> Result<measure::Cached> { return cached_.at(id); };
    return r;
  }
  Pairing Pair() const {
    SilentProgress quiet;
    Result<Pairing> p = PairSession(MakeRequest(), quiet, Cancel());
    EXPECT_TRUE(p.ok());
    return p.ok() ? *p : Pairing{};
  }
  // A scan of any picture.
  PhotoId AddScan(image::RgbF pixels, int roll = 0) {
    record::Photo photo =
        Photo(record::Role::kScan, "film/" + std::to_string(roll) + "/" + std::to_string(scans_.size()));
    photo.roll = RollId{roll};
    photo.roll_position = static_cast<int>(scans_.size());
    photo.width_px = pixels.width();
    photo.height_px = pixels.height();
    const PhotoId id = Add(photo, std::move(pixels));
    scans_.push_back(id);
    return id;
  }
  // The same, measured as a scan is: border, dust and clipped places masked, faults noted.
  PhotoId AddMeasuredScan(const image::RgbF& pixels, int roll = 0) {
    const PhotoId id = AddScan(pixels, roll);
    record::Photo& photo = photos_.at(id);
    photo.encoding = record::Encoding::kTiff;
    Result<measure::MeasuredPicture> m = measure::MeasurePicture(pixels, photo, nullptr);
    EXPECT_TRUE(m.ok());
    measure::Cached& c = cached_.at(id);
    c.measured = m->measured;
    c.analysis = std::move(m->analysis);
    c.features = measure::ExtractFeatures(c.analysis);
    return id;
  }
  Framing Near(Dice& dice) const {
    Framing f = AnotherFraming(dice);
    f.width_px = width_px;
    f.height_px = height_px;
    return f;
  }
  static const image::RgbF& Scene(int number) {
    static std::map<int, image::RgbF> scenes;
    if (!scenes.count(number)) scenes[number] = Painted(500 + number, 900, 675);
    return scenes[number];
  }
  record::Photo& PhotoOf(PhotoId id) { return photos_.at(id); }
  measure::Cached& FactsOf(PhotoId id) { return cached_.at(id); }
  // The scans in another order of their roll; those that are not named are gone.
  void SetRoll(const std::vector<PhotoId>& scans) {
    scans_ = scans;
    for (std::size_t i = 0; i < scans.size(); ++i) photos_.at(scans[i]).roll_position = static_cast<int>(i);
  }

  PersonsWord word;
  std::shared_ptr<Kept> compared;  // what is compared once, where a test pairs the same pictures again
  int width_px = 720, height_px = 540;

 private:
  record::Photo Photo(record::Role role, const std::string& path) const {
    record::Photo p;
    p.role = role;
    p.path = path;
    p.width_px = width_px;
    p.height_px = height_px;
    return p;
  }
  PhotoId Add(record::Photo photo, image::RgbF pixels) {
    photo.id = PhotoId{next_++};
    photo.hash = std::to_string(photo.id.value);
    measure::Cached c;
    c.analysis.pixels = std::move(pixels);
    c.features = measure::ExtractFeatures(c.analysis);
    photos_[photo.id] = photo;
    cached_[photo.id] = std::move(c);
    return photo.id;
  }
  std::int64_t next_ = 1;
  std::map<PhotoId, record::Photo> photos_;
  std::map<PhotoId, measure::Cached> cached_;
  std::vector<PhotoId> frames_, scans_;
};

}  // namespace samelight::pair::testing
