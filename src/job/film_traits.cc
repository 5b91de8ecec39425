#include "job/film_traits.h"

#include <algorithm>
#include <mutex>
#include <set>

#include "codec/read.h"
#include "job/black_and_white.h"
#include "job/digest.h"
#include "job/grain_stage.h"
#include "job/looks.h"
#include "job/memory_gate.h"
#include "job/said.h"
#include "job/stages.h"
#include "job/trait_store.h"
#include "render/render.h"
#include "session/pack.h"

namespace samelight::job {
namespace {

// Raised when measuring gives other traits for the same pictures.
constexpr int kTraitsVersion = 6;
constexpr int kPatchesOfRoll = 150;  // a roll with fewer flat places has the grain of all rolls together
constexpr std::size_t kPairsOfSource = 6;

const record::Photo* PhotoOf(const Goods& goods, PhotoId id) {
  for (const record::Photo& photo : goods.photos)
    if (photo.id == id) return &photo;
  return nullptr;
}

RollId RollOf(const Goods& goods, PhotoId scan) {
  for (const record::Roll& roll : goods.rolls)
    if (std::find(roll.scans.begin(), roll.scans.end(), scan) != roll.scans.end()) return roll.id;
  return {};
}

int LongSideOf(const record::Photo& photo) { return std::max(photo.width_px, photo.height_px); }

// A camera sharpens its JPEGs, raw files and other bodies are softer or crisper: each source is compared by
// itself.
std::map<std::string, SourcePairs> SourcesOf(const Goods& goods, const std::vector<record::Photo>& scans) {
  std::map<PhotoId, const record::Photo*> measured;
  std::map<PhotoId, const record::FrameSolution*> solved;
  for (const record::Photo& scan : scans) measured[scan.id] = &scan;
  for (const record::FrameSolution& solution : goods.match.frames) solved[solution.frame] = &solution;
  std::map<std::string, std::vector<SharpnessPair>> all;
  for (const record::Pair& pair : goods.pairs.pairs) {
    if (!measured.contains(pair.scan)) continue;
    const auto add = [&](PhotoId frame, record::PairKind kind) {
      const auto it = solved.find(frame);
      const record::Photo* photo = PhotoOf(goods, frame);
      if (kind == record::PairKind::kMoment && it != solved.end() && photo != nullptr)
        all[record::SourceName(*photo)].push_back({it->second, pair.scan});
    };
    add(pair.frame, pair.kind);
    for (const record::PairCandidate& other : pair.alternatives)
      if (other.frame != pair.frame) add(other.frame, other.kind);
  }
  std::map<std::string, SourcePairs> sources;
  for (const auto& [name, pairs] : all) {
    SourcePairs& source = sources[name];
    const std::size_t count = std::min(kPairsOfSource, pairs.size());
    for (std::size_t i = 0; i < count; ++i) {
      source.pairs.push_back(pairs[i * pairs.size() / count]);
      for (const int side : {LongSideOf(*PhotoOf(goods, source.pairs.back().frame->frame)),
                             LongSideOf(*measured.at(source.pairs.back().scan))})
        if (side > 0 && (source.long_side_px == 0 || side < source.long_side_px)) source.long_side_px = side;
    }
  }
  return sources;
}

// Fractions of the frame from those of the scan: the homography, moved by what the nearest matched place is
// off it.
render::PlaceMap MapOf(const record::Correspondence& matches) {
  const auto plain = [&matches](double x, double y) {
    const float* h = matches.b_from_a;
    const double w = h[6] * x + h[7] * y + h[8];
    return std::pair((h[0] * x + h[1] * y + h[2]) / w, (h[3] * x + h[4] * y + h[5]) / w);
  };
  return [&matches, plain](double x, double y) {
    auto [u, v] = plain(x, y);
    double nearest = 0.05 * 0.05;
    const record::Cell* near = nullptr;
    for (const record::Cell& cell : matches.cells) {
      const double away = (cell.ax - x) * (cell.ax - x) + (cell.ay - y) * (cell.ay - y);
      if (away < nearest) {
        nearest = away;
        near = &cell;
      }
    }
    if (near != nullptr) {
      const auto [nu, nv] = plain(near->ax, near->ay);
      u += near->bx - nu;
      v += near->by - nv;
    }
    return std::pair(u, v);
  };
}

render::RenderOptions Plain(int long_side_px, const Cancel& cancel) {
  render::RenderOptions plain;
  plain.dither = false;
  plain.long_side_px = long_side_px;
  plain.cancel = cancel;
  return plain;
}

struct Edges {
  std::vector<render::Edge> edges;
  int width_px = 0, height_px = 0;
};
Edges EdgesOf(const image::RgbU8& encoded, const Cancel& cancel) {
  return {render::FindEdges(encoded, cancel), encoded.width(), encoded.height()};
}

}  // namespace

const record::GrainModel& FilmTraits::GrainOf(PhotoId frame) const {
  const auto roll = roll_of_frame.find(frame);
  if (roll == roll_of_frame.end()) return grain;
  const auto own = roll_grain.find(roll->second);
  return own == roll_grain.end() ? grain : own->second;
}

Result<TraitPlan> PlanTraits(const session::Session& session, const Goods& goods,
                             const record::Order& order) {
  TraitPlan plan;
  const bool grey = order.tones == record::Tones::kBlackAndWhite;
  Digest digest;
  if (order.grain || order.acutance) {
    Result<std::vector<record::Photo>> scans = GrainScans(session, grey);
    if (!scans.ok()) return scans.error();
    plan.scans = std::move(scans).value();
    Digest traits;
    traits.Add(kTraitsVersion);
    for (const record::Photo& scan : plan.scans) traits.Add(scan.hash).Add(RollOf(goods, scan.id).value);
    if (!plan.scans.empty()) plan.sources = SourcesOf(goods, plan.scans);
    for (const auto& [name, source] : plan.sources) {
      traits.Add(name).Add(source.long_side_px);
      for (const SharpnessPair& pair : source.pairs) {
        record::FrameSolution applied;
        applied.correction = pair.frame->correction;
        const session::Bytes bytes = session::Pack(applied);
        traits.Add(PhotoOf(goods, pair.frame->frame)->hash)
            .Add(PhotoOf(goods, pair.scan)->hash)
            .Add(std::string_view(reinterpret_cast<const char*>(bytes.data()), bytes.size()));
      }
    }
    plan.traits = traits.Hex();
    digest.Add(plan.traits);
  }
  if (order.grain && !grey && plan.scans.empty()) {
    const Result<session::Standing> folded = StandingOf(session);
    if (!folded.ok()) return folded.error();
    const session::Standing& standing = *folded;
    Result<std::optional<record::LearnedLook>> look = EarlierLook(standing);
    if (!look.ok()) return look.error();
    if (look->has_value()) plan.look_grain = (*look)->grain;
    if (plan.look_grain.patches > 0) digest.Add(standing.look.text);
  }
  if (grey) {
    plan.tone = BlackAndWhiteTone(session, goods);
    if (plan.tone.empty()) {
      plan.notes.emplace_back(
          "the session has no black-and-white roll to take the tone from: the frames are plain "
          "black-and-white");
      plan.tone = {0, 1};
    }
    for (const float v : plan.tone) digest.Add(static_cast<double>(v));
  }
  plan.digest = digest.Hex();
  return plan;
}

Result<FilmTraits> MeasureTraits(const session::Session& session, const Goods& goods, const TraitPlan& plan,
                                 std::uint64_t memory_mib, const Work& work) {
  FilmTraits traits;
  if (plan.scans.empty()) {
    traits.grain = plan.look_grain;
    return traits;
  }
  if (plan.tone.empty()) traits.roll_of_frame = RollsOfFrames(goods);
  const fs::path kept = session.cache_folder() / ("film-" + plan.traits);
  if (std::optional<FilmTraits> known = ReadTraits(kept)) {
    known->roll_of_frame = std::move(traits.roll_of_frame);
    return std::move(*known);
  }

  // Only scans that are compared, at the sizes they are compared at.
  std::set<std::pair<PhotoId, int>> wanted;
  long pictures = 0;
  for (const auto& [name, source] : plan.sources)
    for (const SharpnessPair& pair : source.pairs) {
      wanted.insert({pair.scan, source.long_side_px});
      ++pictures;
    }
  std::map<std::pair<PhotoId, int>, Edges> scans;
  std::mutex scans_mutex;
  std::vector<render::GrainMeter> found;
  Result<record::GrainModel> grain = MeasureGrain(
      session, plan.scans, memory_mib, work,
      [&](const record::Photo& photo, const image::RgbF& scan) {
        for (auto it = wanted.lower_bound({photo.id, 0}); it != wanted.end() && it->first == photo.id; ++it) {
          image::RgbU8 encoded;
          if (!render::RenderAsItIs(scan, Plain(it->second, work.cancel), encoded).ok()) continue;
          Edges edges = EdgesOf(encoded, work.cancel);
          const std::lock_guard lock(scans_mutex);
          scans[*it] = std::move(edges);
        }
      },
      &found);
  if (grain.ok())
    traits.grain = std::move(grain).value();
  else if (grain.error().code == ErrorCode::kCancelled)
    return grain.error();
  else
    traits.no_grain = grain.error().what;
  std::map<RollId, render::GrainMeter> rolls;
  for (std::size_t i = 0; i < found.size(); ++i) rolls[RollOf(goods, plan.scans[i].id)].Add(found[i]);
  if (rolls.size() > 1)
    for (const auto& [roll, meter] : rolls)
      if (Result<record::GrainModel> model = meter.Model(); model.ok() && model->patches >= kPatchesOfRoll)
        traits.roll_grain[roll] = std::move(model).value();

  Result<session::PairResult> matched = session.Pairs();
  if (!matched.ok()) return matched.error();
  MemoryGate gate(BudgetBytes(memory_mib));
  work.progress.Begin("measuring acutance", pictures);
  for (const auto& [name, source] : plan.sources) {
    std::vector<render::EdgePair> same;
    for (const SharpnessPair& pair : source.pairs) {
      work.progress.Advance(1);
      const auto known = std::find_if(
          matched->scan_to_frame.begin(), matched->scan_to_frame.end(),
          [&](const record::Correspondence& c) { return c.a == pair.scan && c.b == pair.frame->frame; });
      const auto scan = scans.find({pair.scan, source.long_side_px});
      if (known == matched->scan_to_frame.end() || known->mirrored || scan == scans.end()) continue;
      const record::Photo& photo = *PhotoOf(goods, pair.frame->frame);
      codec::ReadOptions read;
      read.cancel = work.cancel;
      const MemoryGate::Admission admitted =
          gate.Admit(WorkingBytes(photo, read, false, source.long_side_px, false, {}), work.cancel);
      if (!admitted) break;
      Result<codec::Picture> picture = codec::ReadPicture(session.Absolute(photo.path), read);
      if (!picture.ok() || picture->photo.hash != photo.hash) continue;
      image::RgbU8 encoded;
      if (!render::Render(picture->pixels, pair.frame->correction, Plain(source.long_side_px, work.cancel),
                          encoded)
               .ok())
        continue;
      picture->pixels = {};  // looking for edges takes as much
      const Edges& a = scan->second;
      const std::vector<render::EdgePair> more =
          render::SameEdges(a.edges, a.width_px, a.height_px, render::FindEdges(encoded, work.cancel),
                            encoded.width(), encoded.height(), MapOf(*known));
      same.insert(same.end(), more.begin(), more.end());
    }
    const render::Acutance acutance = render::CompareEdges(same, source.long_side_px);
    if (acutance.long_side_px > 0) traits.acutance[name] = acutance;
  }
  work.progress.End();
  if (work.cancel.requested()) return Stopped();
  KeepTraits(kept, traits);
  return traits;
}

}  // namespace samelight::job
