#include "job/parcels.h"

#include <algorithm>
#include <cmath>

#include "codec/write.h"
#include "job/digest.h"
#include "job/output_names.h"
#include "job/rolls.h"
#include "job/running_order.h"
#include "job/said.h"
#include "job/stages.h"
#include "session/pack.h"

namespace samelight::job {
namespace {

using record::Order;
using record::Photo;

// Raised when rendering or writing would give other files for the same correction and order.
constexpr int kDeliveryVersion = 9;

std::string_view View(const session::Bytes& bytes) {
  return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}

// The order without what decides only which files there are, and where.
session::Bytes Deciding(Order order) {
  order.name.clear();
  order.pictures = {};
  order.least_rating = -1;
  order.names.clear();
  order.label.clear();
  order.folder_per_light = false;
  if (order.format != record::FileFormat::kJpeg) {
    order.quality = 0;
    order.sampling = {};
  }
  return session::Pack(order);
}

std::string DigestOf(const Parcel& parcel, const Order& order, const std::string& made_from) {
  Digest digest;
  digest.Add(kDeliveryVersion).Add(parcel.photo->hash).Add(static_cast<int>(parcel.copied));
  if (parcel.copied) return digest.Hex();
  digest.Add(View(Deciding(order)));
  const record::Framing& f = parcel.framing;
  digest.Add(f.quarter_turns)
      .Add(f.crop.left)
      .Add(f.crop.top)
      .Add(f.crop.right)
      .Add(f.crop.bottom)
      .Add(f.crop.angle_deg);
  if (parcel.solution == nullptr) return digest.Hex();
  record::FrameSolution applied;  // only what decides the pixels
  applied.correction = parcel.solution->correction;
  if (order.grain && order.tones == record::Tones::kColour) digest.Add(parcel.film.value);
  return digest.Add(View(session::Pack(applied))).Add(made_from).Hex();
}

const char* EndingOf(const Order& order) {
  switch (order.format) {
    case record::FileFormat::kJpeg:
      return codec::Ending(codec::Format::kJpeg);
    case record::FileFormat::kTiff8:
    case record::FileFormat::kTiff16:
      return codec::Ending(codec::Format::kTiff8);
    case record::FileFormat::kPng:
    case record::FileFormat::kPng16:
      return codec::Ending(codec::Format::kPng);
  }
  return "";
}

}  // namespace

Result<Goods> GoodsOf(const session::Session& session) {
  Goods goods;
  Result<std::vector<Photo>> photos = session.Photos();
  if (!photos.ok()) return photos.error();
  Result<session::MatchResult> match = session.Match();
  if (!match.ok()) return match.error();
  Result<session::PairResult> pairs = session.PairsWithoutMatches();
  if (!pairs.ok()) return pairs.error();
  Result<std::unordered_map<PhotoId, session::MeasuredEntry>> measured = session.Measured();
  if (!measured.ok()) return measured.error();
  Result<std::vector<record::Roll>> rolls = session.Rolls();
  if (!rolls.ok()) return rolls.error();
  Result<session::Standing> said = StandingOf(session);
  if (!said.ok()) return said.error();
  Result<std::vector<session::Delivery>> earlier = session.Deliveries();
  if (!earlier.ok()) return earlier.error();
  goods.photos = std::move(photos).value();
  goods.match = std::move(match).value();
  goods.pairs = std::move(pairs).value();
  goods.standing = std::move(said).value();
  std::unordered_map<PhotoId, record::Measured> facts;
  for (auto& [id, entry] : *measured) facts[id] = std::move(entry.measured);
  goods.rolls = StandingRolls(std::move(rolls).value(), goods.standing, facts, goods.photos);
  goods.earlier = std::move(earlier).value();
  return goods;
}

std::unordered_map<PhotoId, RollId> RollsOfFrames(const Goods& goods) {
  std::unordered_map<PhotoId, std::size_t> place;  // in goods.rolls
  for (std::size_t i = 0; i < goods.rolls.size(); ++i)
    if (!goods.rolls[i].black_and_white)
      for (const PhotoId scan : goods.rolls[i].scans) place[scan] = i;
  std::unordered_map<PhotoId, RollId> rolls;
  for (const record::Light& light : goods.pairs.lights) {
    std::vector<int> count(goods.rolls.size(), 0);
    for (const PhotoId scan : light.scans)
      if (const auto it = place.find(scan); it != place.end()) ++count[it->second];
    const auto most = std::max_element(count.begin(), count.end());
    if (most == count.end() || *most == 0) continue;
    for (const PhotoId frame : light.frames)
      rolls[frame] = goods.rolls[static_cast<std::size_t>(most - count.begin())].id;
  }
  return rolls;
}

record::Framing FramingOf(const Photo& photo, const session::Standing& standing) {
  const auto said = standing.framing.find(photo.id);
  if (said != standing.framing.end()) return said->second;
  record::Framing framing;
  if (photo.crop) framing.crop = *photo.crop;
  return record::Sound(framing) ? framing : record::Framing{};
}

std::vector<Parcel> Parcels(const session::Session& session, const Goods& goods, const Order& order,
                            const fs::path& folder, const std::string& made_from) {
  std::unordered_map<PhotoId, const record::FrameSolution*> solution_of;
  for (const record::FrameSolution& solution : goods.match.frames) solution_of[solution.frame] = &solution;
  const auto wanted = [&](const Photo& photo) {
    const bool scan = photo.role == record::Role::kScan;
    if (order.pictures == (scan ? record::Pictures::kFrames : record::Pictures::kScans)) return false;
    return photo.capture.rating.value_or(0) >= order.least_rating;
  };
  NameSource source;
  for (const Photo* photo : RunningOrder(goods.photos, goods.pairs.clocks, goods.pairs.pairs))
    if (wanted(*photo)) source.running.push_back(photo);
  source.lights = &goods.pairs.lights;
  source.rolls = &goods.rolls;
  source.clocks = &goods.pairs.clocks;
  const std::unordered_map<PhotoId, std::string> names = OutputNames(order, source);
  const std::unordered_map<PhotoId, RollId> rolls = RollsOfFrames(goods);
  std::vector<Parcel> parcels;
  for (const Photo* photo : source.running) {
    Parcel parcel;
    parcel.photo = photo;
    if (const auto film = rolls.find(photo->id); film != rolls.end()) parcel.film = film->second;
    const bool scan = photo->role == record::Role::kScan;
    if (scan) {
      if (photo->hash.empty()) continue;  // never read
      parcel.copied = order.scans == record::ScanTreatment::kUntouched;
    } else {
      const auto solution = solution_of.find(photo->id);
      if (solution == solution_of.end()) continue;
      parcel.solution = solution->second;
    }
    if (order.crop && !parcel.copied) parcel.framing = FramingOf(*photo, goods.standing);
    const std::string ending = parcel.copied ? fs::path(photo->path).extension().string() : EndingOf(order);
    parcel.file = folder / (names.at(photo->id) + ending);
    parcel.delivery = {session.Relative(parcel.file), photo->id, order.name,
                       DigestOf(parcel, order, made_from), false};
    parcels.push_back(std::move(parcel));
  }
  return parcels;
}

int LongSide(const Order& order, int width_px, int height_px) {
  const record::OutputSize& size = order.size;
  if (size.long_side_px > 0) return size.long_side_px;
  double box_long = std::max(size.box_width_px, size.box_height_px),
         box_short = std::min(size.box_width_px, size.box_height_px);
  if (size.print_width_cm > 0) {
    const double dots = order.dpi / 2.54;
    box_long = std::max(size.print_width_cm, size.print_height_cm) * dots;
    box_short = std::min(size.print_width_cm, size.print_height_cm) * dots;
  }
  if (box_long <= 0) return 0;
  const double longest = std::max(width_px, height_px), shortest = std::min(width_px, height_px);
  const double scale = std::min(box_long / longest, box_short / shortest);
  return std::max(1, static_cast<int>(std::floor(longest * scale + 1e-9)));
}

}  // namespace samelight::job
