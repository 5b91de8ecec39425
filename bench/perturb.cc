#include "bench/perturb.h"

#include <algorithm>
#include <map>
#include <random>
#include <set>

namespace samelight::bench {
namespace {

using Dice = std::mt19937_64;

double Unit(Dice& dice) { return (dice() >> 11) * 0x1.0p-53; }

std::map<PhotoId, LightId> LightOfFrame(const solve::Request& request) {
  std::map<PhotoId, LightId> out;
  for (const record::Light& light : request.lights)
    for (PhotoId frame : light.frames) out[frame] = light.id;
  return out;
}

bool HasFrame(const record::Pair& pair) { return pair.kind != record::PairKind::kNone && pair.frame.valid(); }

std::map<PhotoId, std::size_t> CellsOfScans(const solve::Request& request) {
  std::map<PhotoId, std::size_t> cells;
  for (const record::Correspondence& c : request.scan_to_frame) cells[c.a] += c.cells.size();
  return cells;
}

}  // namespace

solve::Request ThinCells(solve::Request request, double share, std::uint64_t seed) {
  Dice dice(seed);
  for (auto* list : {&request.scan_to_frame, &request.frame_to_frame})
    for (record::Correspondence& c : *list) {
      std::vector<record::Cell> kept;
      for (const record::Cell& cell : c.cells)
        if (Unit(dice) < share) kept.push_back(cell);
      if (kept.empty() && !c.cells.empty()) kept.push_back(c.cells[dice() % c.cells.size()]);
      c.cells = std::move(kept);
    }
  return request;
}

solve::Request WrongCells(solve::Request request, double share, std::uint64_t seed) {
  Dice dice(seed);
  for (auto* list : {&request.scan_to_frame, &request.frame_to_frame})
    for (record::Correspondence& c : *list) {
      std::vector<std::size_t> order(c.cells.size());
      for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
      for (std::size_t i = order.size(); i > 1; --i) std::swap(order[i - 1], order[dice() % i]);
      order.resize(static_cast<std::size_t>(share * order.size() + 0.5));
      if (order.size() < 2) continue;
      const record::Cell first = c.cells[order[0]];
      for (std::size_t i = 0; i < order.size(); ++i) {
        record::Cell& cell = c.cells[order[i]];
        const record::Cell& other = i + 1 < order.size() ? c.cells[order[i + 1]] : first;
        cell.ax = other.ax;
        cell.ay = other.ay;
        std::copy_n(other.a_rgb, 3, cell.a_rgb);
      }
    }
  return request;
}

solve::Request WrongPairs(solve::Request request, std::uint64_t seed) {
  Dice dice(seed);
  const std::map<PhotoId, LightId> light_of = LightOfFrame(request);
  std::map<PhotoId, std::vector<record::Correspondence>> matches;
  for (record::Correspondence& c : request.scan_to_frame) matches[c.a].push_back(c);
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < request.pairs.size(); ++i)
    if (HasFrame(request.pairs[i]) && matches.contains(request.pairs[i].scan)) order.push_back(i);
  for (std::size_t i = order.size(); i > 1; --i) std::swap(order[i - 1], order[dice() % i]);
  const std::vector<record::Pair> before = request.pairs;
  std::size_t left = std::max<std::size_t>(1, (order.size() + 5) / 10);
  for (std::size_t i : order) {
    if (left == 0) break;
    record::Pair& pair = request.pairs[i];
    for (std::size_t k = order.size(); k > 0; --k) {
      const record::Pair& donor = before[order[(k + i) % order.size()]];
      if (light_of.at(donor.frame) == light_of.at(pair.frame)) continue;
      const LightId from = light_of.at(pair.frame), to = light_of.at(donor.frame);
      std::vector<record::Correspondence> wrong = matches[donor.scan];
      const std::vector<record::Correspondence>& own = matches[pair.scan];
      std::vector<record::Cell> colours;
      for (const auto& c : own) colours.insert(colours.end(), c.cells.begin(), c.cells.end());
      if (colours.empty()) break;
      for (record::Correspondence& c : wrong) {
        c.a = pair.scan;
        for (record::Cell& cell : c.cells) std::copy_n(colours[dice() % colours.size()].a_rgb, 3, cell.a_rgb);
      }
      std::erase_if(request.scan_to_frame, [&](const auto& c) { return c.a == pair.scan; });
      request.scan_to_frame.insert(request.scan_to_frame.end(), wrong.begin(), wrong.end());
      for (record::Light& light : request.lights) {
        if (light.id == from) std::erase(light.scans, pair.scan);
        if (light.id == to) light.scans.push_back(pair.scan);
      }
      pair.frame = donor.frame;
      --left;
      break;
    }
  }
  return request;
}

solve::Request KeepScans(solve::Request request, const std::vector<PhotoId>& scans) {
  const std::set<PhotoId> kept(scans.begin(), scans.end());
  const auto gone = [&](PhotoId scan) { return !kept.contains(scan); };
  std::erase_if(request.photos,
                [&](const record::Photo& p) { return p.role == record::Role::kScan && gone(p.id); });
  std::erase_if(request.pairs, [&](const record::Pair& p) { return gone(p.scan); });
  std::erase_if(request.scan_to_frame, [&](const record::Correspondence& c) { return gone(c.a); });
  for (record::Roll& roll : request.rolls) std::erase_if(roll.scans, gone);
  std::erase_if(request.rolls, [](const record::Roll& roll) { return roll.scans.empty(); });
  for (record::Light& light : request.lights) std::erase_if(light.scans, gone);
  return request;
}

std::vector<PhotoId> FullestScans(const solve::Request& request) {
  const std::map<PhotoId, LightId> light_of = LightOfFrame(request);
  std::map<PhotoId, std::size_t> cells = CellsOfScans(request);
  std::vector<PhotoId> fullest;
  for (const record::Light& light : request.lights) {
    PhotoId best;
    for (const record::Pair& pair : request.pairs)
      if (HasFrame(pair) && light_of.at(pair.frame) == light.id &&
          cells[pair.scan] > (best.valid() ? cells[best] : 0))
        best = pair.scan;
    if (best.valid()) fullest.push_back(best);
  }
  return fullest;
}

solve::Request OneScan(const solve::Request& request) {
  std::map<PhotoId, std::size_t> cells = CellsOfScans(request);
  PhotoId best;
  for (const PhotoId scan : FullestScans(request))
    if (!best.valid() || cells[scan] > cells[best]) best = scan;
  return KeepScans(request, {best});
}

solve::Request TwoExtremeLights(const solve::Request& request) {
  const std::map<PhotoId, LightId> light_of = LightOfFrame(request);
  std::map<LightId, std::vector<PhotoId>> scans;
  for (const record::Pair& pair : request.pairs)
    if (HasFrame(pair)) scans[light_of.at(pair.frame)].push_back(pair.scan);
  const record::Light *warm = nullptr, *cool = nullptr;
  for (const record::Light& light : request.lights) {
    if (!scans.contains(light.id)) continue;
    if (!warm || light.mired > warm->mired) warm = &light;
    if (!cool || light.mired < cool->mired) cool = &light;
  }
  std::vector<PhotoId> kept;
  for (const record::Light* light : {warm, cool})
    if (light) kept.insert(kept.end(), scans[light->id].begin(), scans[light->id].end());
  return KeepScans(request, kept);
}

}  // namespace samelight::bench
