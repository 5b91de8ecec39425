#include "simulate/plan.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "codec/read.h"
#include "simulate/camera.h"
#include "simulate/random.h"

namespace samelight::simulate {
namespace {

Status Check(const SessionOptions& o) {
  const auto bad = [](const std::string& name, const std::string& range) {
    return Error{ErrorCode::kInvalidArgument, name + " must be " + range, "", ""};
  };
  if (o.frame_long_side_px < 200 || o.frame_long_side_px > 8000)
    return bad("frame_long_side_px", "200 to 8000");
  if (o.lights < 1 || o.lights > 20) return bad("lights", "1 to 20");
  if (o.frames < o.lights || o.frames > 5000)
    return bad("frames", "at least the number of lights and at most 5000");
  if (o.scans < 0 || o.scans > 500) return bad("scans", "0 to 500");
  if (o.alike < 0 || o.alike == 1 || o.alike > o.lights)
    return bad("alike", "0, or 2 to the number of lights");
  if (!(o.jpeg_share >= 0 && o.jpeg_share <= 1)) return bad("jpeg_share", "0 to 1");
  return {};
}

std::vector<std::string> PhotographsIn(const std::filesystem::path& folder) {
  std::vector<std::string> names;
  std::error_code ignored;
  for (std::filesystem::directory_iterator it(folder, ignored), end; !ignored && it != end;
       it.increment(ignored)) {
    const auto name = it->path().filename().string();
    if (it->is_regular_file(ignored) && codec::LooksLikePicture(it->path())) names.push_back(name);
  }
  std::sort(names.begin(), names.end());
  return names;
}

// Where a base photograph could have been taken: bit 0 indoors, bit 1 outdoors. Unknown names: both.
int PlacesOf(const std::string& name) {
  const auto is = [&](std::initializer_list<const char*> stems) {
    for (const char* stem : stems)
      if (name.starts_with(stem)) return true;
    return false;
  };
  if (is({"Wine", "free", "greentock", "room", "coffee", "chelsea"})) return 1;
  if (is({"aitzgorri", "life", "picos", "seeding", "Bridge", "Dragonfly", "lake", "tulips", "blossom",
          "sunset", "friends"}))
    return 2;
  return 3;
}

// Where the faces of a portrait are, so that views do not cut them off. Null: anywhere.
struct Interest {
  double x, y;
};
const Interest* InterestOf(const Plan& plan, int photograph) {
  static const Interest face{0.44, 0.33}, bird{0.5, 0.6};
  if (plan.IsPainted()) return nullptr;
  const std::string& name = plan.photographs[photograph];
  return name.starts_with("astronaut") ? &face : name.starts_with("free") ? &bird : nullptr;
}

constexpr double kHour = 3600;
// Order of the day.
constexpr struct {
  LightKind kind;
  double hour;
  int places;
} kDay[] = {{LightKind::kWindow, 10.2, 1},   {LightKind::kOpenShade, 11.6, 2},
            {LightKind::kNoonSun, 13.0, 2},  {LightKind::kUnderTrees, 14.5, 2},
            {LightKind::kOvercast, 16.3, 2}, {LightKind::kEveningSun, 19.4, 2},
            {LightKind::kBlueHour, 20.9, 2}, {LightKind::kBulbs, 21.7, 1},
            {LightKind::kCandles, 22.5, 1},  {LightKind::kLed, 23.3, 1}};
constexpr int kDayCount = static_cast<int>(std::size(kDay));

std::vector<int> ChooseDay(int count, Random& random) {
  std::vector<int> chosen;
  if (count >= kDayCount) {
    for (int i = 0; i < count; ++i) chosen.push_back(i % kDayCount);
  } else {
    std::vector<int> order(kDayCount);
    for (int i = 0; i < kDayCount; ++i) order[i] = i;
    for (int i = kDayCount - 1; i > 0; --i) std::swap(order[i], order[random.Below(i + 1)]);
    // One light indoors by day, one in the evening and one with bulbs belong to a wedding as soon as there is
    // room.
    for (LightKind wanted : {LightKind::kBulbs, LightKind::kEveningSun, LightKind::kWindow}) {
      auto at = std::find_if(order.begin(), order.end(), [&](int i) { return kDay[i].kind == wanted; });
      if (count >= 4) std::rotate(order.begin(), at, at + 1);
    }
    chosen.assign(order.begin(), order.begin() + count);
  }
  std::sort(chosen.begin(), chosen.end());
  return chosen;
}

View Jitter(View view, double by, Random& random) {
  view.x += random.Uniform(-by, by) * view.width;
  view.y += random.Uniform(-by, by) * view.width;
  view.width *= std::exp(random.Uniform(-by, by) * 1.2);
  view.angle_deg += random.Uniform(-2.5, 2.5);
  view.lean_x += random.Uniform(-0.05, 0.05);
  view.lean_y += random.Uniform(-0.04, 0.04);
  return view;
}

void Move(View& view, int count, double by, Random& random) {
  for (int i = 0; i < count; ++i)
    view.pushes.push_back({view.x + random.Uniform(-0.4, 0.4) * view.width,
                           view.y + random.Uniform(-0.35, 0.35) * view.width,
                           random.Uniform(0.05, 0.12) * view.width, random.Uniform(-by, by) * view.width,
                           random.Uniform(-by, by) * view.width});
}

// Splits `total` over `count` parts, each at least `least`, by chance.
std::vector<int> Split(int total, int count, int least, Random& random) {
  std::vector<int> parts(count, 0);
  for (int i = 0; i < count && total > 0; ++i)
    for (int k = 0; k < least && total > 0; ++k, --total) ++parts[i];
  for (; total > 0; --total) ++parts[random.Below(count)];
  return parts;
}

// Long sessions outgrow the hours of the day: a light that would start before the one before has ended is put
// off.
void OneAfterTheOther(Plan& plan, const std::vector<std::vector<int>>& moments_of_light) {
  constexpr double kWay_s = 600;  // from one place to the next
  std::vector<int> order(moments_of_light.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = static_cast<int>(i);
  const auto start = [&](int l) { return plan.moments[moments_of_light[l].front()].time_s; };
  std::stable_sort(order.begin(), order.end(), [&](int a, int b) { return start(a) < start(b); });
  double free_from = 0;
  for (int l : order) {
    const double later = std::max(0.0, free_from - start(l));
    for (int m : moments_of_light[l]) {
      plan.moments[m].time_s += later;
      free_from = plan.moments[m].time_s + kWay_s;
    }
    for (PlannedFrame& frame : plan.frames)
      if (plan.moments[frame.moment].light == l) frame.time_s += later;
  }
}

}  // namespace

Result<Plan> MakePlan(const SessionOptions& options) {
  if (const Status status = Check(options); !status.ok()) return status.error();
  Plan plan;
  Random random(options.seed, {0x9147});
  if (!options.painted && !options.photographs.empty()) plan.photographs = PhotographsIn(options.photographs);
  plan.cameras[0] = random.Below(4);
  plan.cameras[1] = (plan.cameras[0] + 1 + random.Below(3)) % 4;
  if (options.world == World::kUnseen) {
    plan.cameras[0] += kOtherGlass;
    plan.cameras[1] = kStackedCamera;
  }
  plan.clock_offset_s = std::round((random.Chance(0.5) ? 1 : -1) * random.Uniform(200, 4500));

  // Lights, and who saw them.
  const auto day = ChooseDay(options.lights, random);
  std::vector<int> film_only;
  for (int index : day) {
    PlannedLight light{kDay[index].kind,
                       MakeLighting(kDay[index].kind, options.seed * 31 + plan.lights.size(),
                                    options.mixed_light, options.world),
                       {}};
    plan.lights.push_back(light);
  }
  if (options.scans > 0) {
    for (auto& light : plan.lights) light.filmed = true;
    const int unfilmed = options.lights < 2 ? 0 : options.lights < 5 ? 1 : 1 + random.Below(2);
    for (int i = 0; i < unfilmed; ++i) {
      int at = random.Below(options.lights);
      // The dance is the first to be left to the digital bodies.
      for (int k = 0; k < options.lights; ++k)
        if (plan.lights[k].kind == LightKind::kLed && plan.lights[k].filmed) at = k;
      plan.lights[at].filmed = false;
    }
    if (std::none_of(plan.lights.begin(), plan.lights.end(), [](const auto& l) { return l.filmed; }))
      plan.lights[0].filmed = true;
    // Lights that only film saw: of another kind than all others where the day leaves one.
    const int only_film = options.scans < 6 ? 0 : std::max(1, options.scans / 12);
    for (int k = 0; k < only_film; ++k) {
      film_only.clear();
      for (int index = 0; index < kDayCount; ++index)
        if (std::none_of(plan.lights.begin(), plan.lights.end(),
                         [&](const auto& light) { return light.kind == kDay[index].kind; }))
          film_only.push_back(index);
      if (film_only.empty() && options.lights >= kDayCount)
        for (int index = 0; index < kDayCount; ++index) film_only.push_back(index);
      if (!film_only.empty()) {
        const int index = film_only[random.Below(static_cast<int>(film_only.size()))];
        PlannedLight light{
            kDay[index].kind,
            MakeLighting(kDay[index].kind, options.seed * 31 + 97 + k, options.mixed_light, options.world),
            {}};
        light.filmed = true;
        light.digital = false;
        plan.lights.push_back(light);
      }
    }
  }
  const int light_count = static_cast<int>(plan.lights.size());

  // Stocks: one for bright light and a fast one for dim light, or one for all, or one for each film body.
  enum { kSlowAndFast, kOneStock, kOnePerBody } habit = static_cast<decltype(habit)>(random.Below(3));
  const int slow = random.Chance(0.5) ? 0 : 2;
  int turn = 0;
  for (auto& light : plan.lights) {
    if (habit == kSlowAndFast) light.stock = light.lighting.dim ? 1 : slow;
    if (habit == kOneStock) light.stock = 2;
    if (habit == kOnePerBody) light.stock = light.lighting.dim ? 1 : (turn++ % 2 ? 0 : 2);
  }

  // Photographs: each belongs to one light, so that no scene is seen in two lights.
  std::vector<int> free_photographs;
  const int scenes = plan.IsPainted() ? light_count * 2 : static_cast<int>(plan.photographs.size());
  plan.painted = plan.IsPainted() ? scenes : 0;
  for (int i = 0; i < scenes; ++i) free_photographs.push_back(i);
  for (int i = scenes - 1; i > 0; --i) std::swap(free_photographs[i], free_photographs[random.Below(i + 1)]);
  // People first: a wedding has faces.
  std::stable_partition(free_photographs.begin(), free_photographs.end(), [&](int i) {
    return !plan.IsPainted() &&
           (plan.photographs[i].starts_with("astronaut") || plan.photographs[i].starts_with("sample"));
  });
  const auto places_of_light = [&](const PlannedLight& light) {
    for (const auto& entry : kDay)
      if (entry.kind == light.kind) return entry.places;
    return 3;
  };
  const auto take = [&](PlannedLight& light, bool any) {
    for (std::size_t k = 0; k < free_photographs.size(); ++k) {
      const int photograph = free_photographs[k];
      const int places = plan.IsPainted() ? 3 : PlacesOf(plan.photographs[photograph]);
      if (!any && !(places & places_of_light(light))) continue;
      light.photographs.push_back(photograph);
      free_photographs.erase(free_photographs.begin() + k);
      return true;
    }
    return false;
  };
  std::vector<int> light_order(light_count);
  for (int i = 0; i < light_count; ++i) light_order[i] = i;
  for (int i = light_count - 1; i > 0; --i) std::swap(light_order[i], light_order[random.Below(i + 1)]);
  std::stable_partition(light_order.begin(), light_order.end(),
                        [&](int i) { return plan.lights[i].filmed && plan.lights[i].digital; });
  std::vector<int> follows(light_count, -1);  // lights at a place that another light has
  for (int k = 1; k < options.alike; ++k) follows[k * options.lights / options.alike] = 0;
  std::erase_if(light_order, [&](int i) { return follows[i] >= 0; });
  for (int i : light_order)
    if (!take(plan.lights[i], false) && !take(plan.lights[i], true))
      plan.lights[i].photographs.push_back(random.Below(scenes));  // more lights than photographs
  for (int round = 0; round < 2; ++round)
    for (int i : light_order)
      if (plan.lights[i].digital && (round == 0 || random.Chance(0.5))) take(plan.lights[i], false);

  for (int i = 0; i < light_count; ++i)
    if (follows[i] >= 0) plan.lights[i].photographs = plan.lights[follows[i]].photographs;

  // Moments and frames.
  const int digital_lights = options.lights;
  const auto frames_of_light =
      Split(options.frames, digital_lights, std::max(1, options.frames / digital_lights - 2), random);
  std::vector<std::vector<int>> moments_of_light(light_count);
  for (int l = 0; l < light_count; ++l) {
    PlannedLight& light = plan.lights[l];
    double time = 0;
    for (const auto& entry : kDay)
      if (entry.kind == light.kind)
        time = entry.hour * kHour + random.Uniform(-600, 600) + 7200 * (l >= kDayCount && light.digital);
    const int count = light.digital ? std::max(1, (frames_of_light[l] + 1) / 3) : 1;
    const int photographs = static_cast<int>(light.photographs.size());
    for (int m = 0; m < count; ++m) {
      Moment moment;
      moment.light = l;
      moment.photograph = light.photographs[m % photographs];
      // Moments of one photograph stand apart in it.
      const int own = m / photographs, of = (count + photographs - 1 - m % photographs) / photographs;
      moment.view.width = of > 1 ? random.Uniform(0.5, 0.62) : random.Uniform(0.68, 0.85);
      moment.view.x =
          of > 1 ? 0.28 + 0.44 * own / (of - 1) + random.Uniform(-0.04, 0.04) : random.Uniform(0.46, 0.54);
      moment.view.y = of > 1 ? random.Uniform(0.32, 0.68) : random.Uniform(0.46, 0.54);
      if (const Interest* face = InterestOf(plan, moment.photograph)) {
        moment.view.width = random.Uniform(0.6, 0.8);
        moment.view.x = face->x + random.Uniform(-0.03, 0.03);
        moment.view.y = face->y + random.Uniform(-0.03, 0.03);
      }
      if (own > 0) Move(moment.view, 3, 0.02, random);
      moment.time_s = time;
      time += random.Uniform(90, 420);
      moment.brighter_ev = random.Normal(0, 0.12);
      moment.key_shift = random.Normal(0, 0.05);
      moments_of_light[l].push_back(static_cast<int>(plan.moments.size()));
      plan.moments.push_back(moment);
    }
    if (!light.digital) continue;
    const auto frames_of_moment = Split(frames_of_light[l], count, 1, random);
    for (int m = 0; m < count; ++m) {
      const int moment = moments_of_light[l][m];
      double at = plan.moments[moment].time_s + random.Uniform(0, 15);
      for (int f = 0; f < frames_of_moment[m]; ++f) {
        PlannedFrame frame;
        frame.moment = moment;
        frame.body = random.Chance(0.4);
        frame.portrait = random.Chance(0.2);
        frame.view = Jitter(plan.moments[moment].view, 0.08, random);
        if (frame.portrait) frame.view.width *= 0.6;
        Move(frame.view, 2, 0.012, random);
        frame.time_s = at;
        at += random.Uniform(1.5, 22);
        // In thirds of a stop; digital bodies are set a little under to keep highlights (common practice).
        frame.exposure_ev = std::clamp(std::round(random.Normal(-0.3, 0.55) * 3) / 3, -1.0, 1.0);
        frame.flash = options.flash && light.lighting.dim && random.Chance(0.5);
        plan.frames.push_back(frame);
      }
    }
  }
  OneAfterTheOther(plan, moments_of_light);

  // JPEG by accident: a body stays on it for a while.
  int jpegs = 0;
  const int aim = static_cast<int>(std::lround(options.jpeg_share * options.frames));
  for (int attempt = 0; attempt < 10000 && jpegs < aim; ++attempt) {
    const int start = random.Below(options.frames), body = plan.frames[start].body, run = 1 + random.Below(4);
    for (int i = start, k = 0; i < options.frames && k < run && jpegs < aim; ++i)
      if (plan.frames[i].body == body) {
        ++k;
        if (!plan.frames[i].jpeg) ++jpegs;
        plan.frames[i].jpeg = true;
      }
  }
  // Names: both bodies count in the same form, and their counts overlap.
  int number[2] = {random.Below(400) + 20, 0};
  number[1] = number[0] + options.frames / 4;
  for (auto& frame : plan.frames) {
    char name[64];
    std::snprintf(name, sizeof name, "digital/body-%d/P%05d.%s", frame.body + 1, number[frame.body]++,
                  frame.jpeg ? "jpg" : "dng");
    frame.file = name;
  }

  // Scans: most moments of a filmed light get one, some two, some none.
  if (options.scans > 0) {
    std::vector<int> filmed_moments;
    for (int l = 0; l < light_count; ++l)
      if (plan.lights[l].filmed)
        for (int m : moments_of_light[l]) filmed_moments.push_back(m);
    std::vector<int> shots(plan.moments.size(), 0);
    int left = options.scans;
    for (int l = 0; l < light_count && left > 0; ++l)
      if (plan.lights[l].filmed) {  // every filmed light has at least one
        const auto& own = moments_of_light[l];
        ++shots[own[random.Below(static_cast<int>(own.size()))]];
        --left;
      }
    while (left > 0) {
      const int m = filmed_moments[random.Below(static_cast<int>(filmed_moments.size()))];
      if (!plan.lights[plan.moments[m].light].digital && shots[m] > 0) {
        if (filmed_moments.size() > 1) continue;
      } else if (shots[m] > 0 && !random.Chance(0.25) &&
                 std::any_of(filmed_moments.begin(), filmed_moments.end(),
                             [&](int k) { return shots[k] == 0; })) {
        continue;
      }
      ++shots[m];
      --left;
    }
    // Rolls: the two film bodies are loaded by stock; with one stock both are used side by side.
    std::vector<int> moment_order(plan.moments.size());
    for (std::size_t i = 0; i < moment_order.size(); ++i) moment_order[i] = static_cast<int>(i);
    std::stable_sort(moment_order.begin(), moment_order.end(),
                     [&](int a, int b) { return plan.moments[a].time_s < plan.moments[b].time_s; });
    std::vector<int> body_of_roll;
    const auto roll_for = [&](int stock, int body) {
      for (std::size_t r = 0; r < plan.rolls.size(); ++r)
        if (plan.rolls[r].stock == stock && body_of_roll[r] == body) return static_cast<int>(r);
      PlannedRoll roll;
      roll.name = "roll-" + std::to_string(plan.rolls.size() + 1);
      roll.stock = stock;
      roll.aspect =
          body == 0 ? 56.0 / 41.5 : 69.0 / 56.0;  // 6x4.5 and 6x7, frame sizes in mm, common practice
      plan.rolls.push_back(roll);
      body_of_roll.push_back(body);
      return static_cast<int>(plan.rolls.size()) - 1;
    };
    for (int m : moment_order)
      for (int k = 0; k < shots[m]; ++k) {
        const PlannedLight& light = plan.lights[plan.moments[m].light];
        PlannedScan scan;
        scan.moment = m;
        int body = random.Chance(0.45);
        if (light.stock == 1) body = 1;  // the fast film sits in the second body
        if (habit == kOnePerBody && light.stock != 1) body = light.stock == 0;
        scan.roll = roll_for(light.stock, body);
        scan.portrait = random.Chance(0.25);
        scan.view = Jitter(plan.moments[m].view, 0.12, random);
        if (scan.portrait) scan.view.width *= 0.7;
        Move(scan.view, 3, 0.02, random);
        scan.mirrored = scan.view.mirrored = random.Chance(0.06);
        if (!scan.mirrored && light.photographs.size() > 1 && random.Chance(0.08))
          for (int other : light.photographs)
            if (other != plan.moments[m].photograph) scan.other_people = other;
        scan.exposure_error_ev = std::clamp(random.Normal(0, 0.3), -0.8, 0.8);
        plan.scans.push_back(scan);
      }
    if (options.pushed_roll && !plan.rolls.empty()) plan.rolls.back().push_ev = 1;
    if (options.black_and_white_roll) {
      PlannedRoll roll;
      roll.name = "roll-" + std::to_string(plan.rolls.size() + 1);
      roll.stock = 3;
      plan.rolls.push_back(roll);
      for (int k = 0; k < 3; ++k) {
        PlannedScan scan;
        scan.moment = filmed_moments[filmed_moments.size() * k / 3];
        scan.roll = static_cast<int>(plan.rolls.size()) - 1;
        scan.view = Jitter(plan.moments[scan.moment].view, 0.12, random);
        plan.scans.push_back(scan);
      }
    }
    // Some rolls come back numbered from the end.
    for (std::size_t r = 0; r < plan.rolls.size(); ++r) {
      std::vector<PlannedScan*> own;
      for (auto& scan : plan.scans)
        if (scan.roll == static_cast<int>(r)) own.push_back(&scan);
      if (random.Chance(0.2)) std::reverse(own.begin(), own.end());
      for (std::size_t k = 0; k < own.size(); ++k) {
        own[k]->position = static_cast<int>(k);
        char name[64];
        std::snprintf(name, sizeof name, "film/%s/%02d.jpg", plan.rolls[r].name.c_str(),
                      static_cast<int>(k) + 1);
        own[k]->file = name;
      }
    }
  }
  return plan;
}

}  // namespace samelight::simulate
