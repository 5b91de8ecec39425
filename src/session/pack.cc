#include "session/pack.h"

namespace samelight::session {
namespace {

// Fields are named by structured bindings: a field added to a record does not compile until it is listed here
// (and the version below is raised).
constexpr std::uint16_t kFactsVersion = 3;  // 2: a camera's daylight by itself; 3: its light unadapted
constexpr std::uint16_t kMeasuredVersion = 1;
constexpr std::uint16_t kCorrespondenceVersion = 1;
constexpr std::uint16_t kSolutionVersion =
    7;  // 2: hues, grain, acutance; 3: regions' follow; 4: interimage; 5: spread of every handle; 6: sides of
        // faces; 7: kinds of flags, a scan's own nudge, aims
constexpr std::uint16_t kPhotosVersion = 1;
constexpr std::uint16_t kWordVersion = 3;  // the same

// Every Visit is declared before the containers that call it.
template <class A>
void Visit(A& a, auto& value) requires requires {
  a(value);
}
{ a(value); }
// Only regions that exist are let in: they index tables elsewhere.
template <class A>
void Visit(A& a, record::RegionKind& value) {
  a(value);
  if constexpr (A::kReads) {
    if (value > record::RegionKind::kHighlight && value != record::RegionKind::kMasked) a.Fail();
  }
}
// The same for every other enumeration that a person's words hold.
template <class A, class E>
void VisitUpTo(A& a, E& value, E last) {
  a(value);
  if constexpr (A::kReads) {
    if (value > last) a.Fail();
  }
}
template <class A>
void Visit(A& a, record::FileFormat& v) {
  VisitUpTo(a, v, record::FileFormat::kPng16);
}
template <class A>
void Visit(A& a, record::ChromaSampling& v) {
  VisitUpTo(a, v, record::ChromaSampling::k420);
}
template <class A>
void Visit(A& a, record::OutputSpace& v) {
  VisitUpTo(a, v, record::OutputSpace::kRomm);
}
template <class A>
void Visit(A& a, record::NamePart& v) {
  VisitUpTo(a, v, record::NamePart::kLabel);
}
template <class A>
void Visit(A& a, record::Pictures& v) {
  VisitUpTo(a, v, record::Pictures::kBoth);
}
template <class A>
void Visit(A& a, record::ScanTreatment& v) {
  VisitUpTo(a, v, record::ScanTreatment::kFitted);
}
template <class A>
void Visit(A& a, record::Tones& v) {
  VisitUpTo(a, v, record::Tones::kBlackAndWhite);
}
template <class A>
void Visit(A& a, record::OutputSize& value);
template <class A>
void Visit(A& a, record::Order& value);
template <class A>
void Visit(A& a, record::Framing& value);
template <class A>
void Visit(A& a, record::LayerCurve& value);
template <class A>
void Visit(A& a, record::HueBump& value);
template <class A>
void Visit(A& a, record::Look& value);
template <class A>
void Visit(A& a, record::Unify& value);
template <class A>
void Visit(A& a, record::Handles& value);
template <class A>
void Visit(A& a, record::Correction& value);
template <class A>
void Visit(A& a, record::LeftOver& value);
template <class A>
void Visit(A& a, record::Uncertainty& value);
template <class A>
void Visit(A& a, record::ScanNudge& value);
template <class A>
void Visit(A& a, record::Flag& value);
template <class A>
void Visit(A& a, record::FrameSolution& value);
template <class A>
void Visit(A& a, record::Face& value);
template <class A>
void Visit(A& a, record::RegionStat& value);
template <class A>
void Visit(A& a, record::LightEstimate& value);
template <class A>
void Visit(A& a, record::Measured& value);
template <class A>
void Visit(A& a, record::Cell& value);
template <class A>
void Visit(A& a, record::Correspondence& value);
template <class A>
void Visit(A& a, record::Capture& value);
template <class A>
void Visit(A& a, record::Crop& value);
template <class A>
void Visit(A& a, record::RawColour& value);
template <class A, class T>
void Visit(A& a, std::vector<T>& list);
template <class A, class T>
void Visit(A& a, std::optional<T>& value);

template <class A, class T, std::size_t n>
void Visit(A& a, std::array<T, n>& list) {
  for (T& item : list) Visit(a, item);
}
template <class A, class T, std::size_t n>
void Visit(A& a, T (&list)[n]) {
  for (T& item : list) Visit(a, item);
}
template <class A, class T>
void Visit(A& a, std::vector<T>& list) {
  auto count = static_cast<std::uint32_t>(list.size());
  a(count);
  if constexpr (A::kReads) {
    // Grown item by item: a damaged count cannot ask for more memory than the blob has bytes for.
    list.clear();
    for (std::uint32_t i = 0; i < count && a.Has(1); ++i) Visit(a, list.emplace_back());
  } else {
    for (T& item : list) Visit(a, item);
  }
}
template <class A, class T>
void Visit(A& a, std::optional<T>& value) {
  bool there = value.has_value();
  a(there);
  if constexpr (A::kReads) value = there ? std::optional<T>(T{}) : std::nullopt;
  if (value) Visit(a, *value);
}
template <class A, class... Fields>
void All(A& a, Fields&... fields) {
  (Visit(a, fields), ...);
}

template <class A>
void Visit(A& a, record::LayerCurve& value) {
  auto& [gamma, floor, ceiling, toe, shoulder] = value;
  All(a, gamma, floor, ceiling, toe, shoulder);
}
template <class A>
void Visit(A& a, record::HueBump& value) {
  auto& [hue, chroma, lightness] = value;
  All(a, hue, chroma, lightness);
}
template <class A>
void Visit(A& a, record::Look& value) {
  auto& [m1, interimage, layer, m2, bumps] = value;
  All(a, m1, layer, m2, bumps);
  if constexpr (A::kReads) {
    if (a.version() < 4) return;
  }
  All(a, interimage);
}
template <class A>
void Visit(A& a, record::Unify& value) {
  auto& [display_referred, tone_in, tone_out, matrix, exposure] = value;
  All(a, display_referred, tone_in, tone_out, matrix, exposure);
}
template <class A>
void Visit(A& a, record::Handles& value) {
  auto& [exposure, warmth, green_magenta, gamma, toe, shoulder, black, chroma, hues, amount, size, acutance] =
      value;
  All(a, exposure, warmth, green_magenta, gamma, toe, shoulder, black, chroma);
  if constexpr (A::kReads) {
    if (a.version() < 2) return;
  }
  All(a, hues, amount, size, acutance);
}
template <class A>
void Visit(A& a, record::Correction& value) {
  auto& [frame, unify, look, offset, follow, follow_skin, follow_foliage, follow_sky, touch] = value;
  All(a, frame, unify, look, offset, follow, follow_skin, touch);
  if constexpr (A::kReads) {
    if (a.version() < 3) return;
  }
  All(a, follow_foliage, follow_sky);
}
template <class A>
void Visit(A& a, record::LeftOver& value) {
  auto& [region, face, before, after, lab_scan, lab_after, cells, side, nudge, off_aim, lab_aim, lab_off] =
      value;
  All(a, region, face, before, after, lab_scan, lab_after, cells);
  if constexpr (A::kReads) {
    if (a.version() < 7) {  // the scan itself was the aim
      off_aim = after;
      lab_aim = lab_scan;
      lab_off = lab_after;
      if (a.version() < 6) return;
    }
  }
  VisitUpTo(a, side, record::Side::kShaded);
  if constexpr (A::kReads) {
    if (a.version() < 7) return;
  }
  All(a, nudge, off_aim, lab_aim, lab_off);
}
template <class A>
void Visit(A& a, record::Uncertainty& value) {
  auto& [handles, skin, foliage, neutral] = value;
  if constexpr (A::kReads) {
    if (a.version() < 5) {
      All(a, handles.exposure_ev, handles.warmth_mired, handles.green_magenta, skin, foliage, neutral);
      return;
    }
  }
  All(a, handles, skin, foliage, neutral);
}
template <class A>
void Visit(A& a, record::ScanNudge& value) {
  auto& [offset, contrast, black] = value;
  All(a, offset, contrast, black);
}
template <class A>
void Visit(A& a, record::Flag& value) {
  auto& [kind, text, brief] = value;
  if constexpr (A::kReads) {
    if (a.version() < 7) return a(text);  // words alone
  }
  VisitUpTo(a, kind, record::kLastFlagKind);
  All(a, text, brief);
}
template <class A>
void Visit(A& a, record::FrameSolution& value) {
  auto& [frame, light, scan, scan_in_look, nudge, look, correction, shown, left_over, uncertainty, flags] =
      value;
  All(a, frame, light, scan, look, correction, shown, left_over, uncertainty, flags);
  if constexpr (A::kReads) {
    if (a.version() < 7) {
      scan_in_look = scan.valid();
      return;
    }
  }
  All(a, scan_in_look, nudge);
}
template <class A>
void Visit(A& a, record::Face& value) {
  auto& [left, top, right, bottom, score] = value;
  All(a, left, top, right, bottom, score);
}
template <class A>
void Visit(A& a, record::RegionStat& value) {
  auto& [kind, face, area, quantiles, mean] = value;
  All(a, kind, face, area, quantiles, mean);
}
template <class A>
void Visit(A& a, record::LightEstimate& value) {
  auto& [neutral, mired, duv, log2_level, confidence] = value;
  All(a, neutral, mired, duv, log2_level, confidence);
}
template <class A>
void Visit(A& a, record::Measured& value) {
  auto& [faces, regions, light, sharpness, clipped_high, clipped_low, black_and_white, left, top, right,
         bottom, grain, note] = value;
  All(a, faces, regions, light, sharpness, clipped_high, clipped_low, black_and_white, left, top, right,
      bottom, grain, note);
}
template <class A>
void Visit(A& a, record::Cell& value) {
  auto& [ax, ay, bx, by, a_rgb, b_rgb, weight, region, face] = value;
  All(a, ax, ay, bx, by, a_rgb, b_rgb, weight, region, face);
}
template <class A>
void Visit(A& a, record::Correspondence& value) {
  auto& [photo_a, photo_b, inliers, mirrored, b_from_a, cells] = value;
  All(a, photo_a, photo_b, inliers, mirrored, b_from_a, cells);
}
template <class A>
void Visit(A& a, record::Capture& value) {
  auto& [time, zone, exposure, aperture, iso, focal, focus, flash, make, body, serial, lens, scanner, rating,
         sequence, creator, copyright] = value;
  All(a, time, zone, exposure, aperture, iso, focal, focus, flash, make, body, serial, lens, scanner, rating,
      sequence, creator, copyright);
}
template <class A>
void Visit(A& a, record::Crop& value) {
  auto& [left, top, right, bottom, angle] = value;
  All(a, left, top, right, bottom, angle);
}
template <class A>
void Visit(A& a, record::OutputSize& value) {
  auto& [long_side, box_width, box_height, print_width, print_height] = value;
  All(a, long_side, box_width, box_height, print_width, print_height);
}
template <class A>
void Visit(A& a, record::Order& value) {
  auto& [name, pictures, scans, rating, crop, tones, format, quality, sampling, space, size, dpi, names,
         label, folder, grain, grain_amount, grain_size, acutance, sharpening, metadata, place, copyright] =
      value;
  All(a, name, pictures, scans, rating, crop, tones, format, quality, sampling, space, size, dpi, names,
      label, folder, grain, grain_amount, grain_size, acutance, sharpening, metadata, place, copyright);
}
template <class A>
void Visit(A& a, record::Framing& value) {
  auto& [turns, crop] = value;
  All(a, turns, crop);
}
template <class A>
void Visit(A& a, record::RawColour& value) {
  auto& [as_shot, daylight, matrix, daylight_matrix, unadapted] = value;
  All(a, as_shot, daylight, matrix);
  if constexpr (A::kReads) {
    if (a.version() < 2)
      daylight_matrix = matrix;
    else
      All(a, daylight_matrix);
    if (a.version() >= 3) All(a, unadapted);
  } else {
    All(a, daylight_matrix, unadapted);
  }
}
template <class A>
void VisitFacts(A& a, record::Photo& value) {
  auto& [id, role, encoding, path, hash, bytes, modified, width, height, capture, crop, raw, assumed, profile,
         roll, position] = value;
  static_cast<void>(id), static_cast<void>(role), static_cast<void>(encoding), static_cast<void>(path);
  static_cast<void>(hash), static_cast<void>(bytes), static_cast<void>(modified), static_cast<void>(width);
  static_cast<void>(height), static_cast<void>(roll), static_cast<void>(position);  // these have columns
  All(a, capture, crop, raw, assumed, profile);
}

template <class A>
void VisitWord(A& a, Join& w) {
  All(a, w.scan, w.frame);
}
template <class A>
void VisitWord(A& a, Refuse& w) {
  All(a, w.scan, w.frame);
}
template <class A>
void VisitWord(A& a, Bar& w) {
  All(a, w.scan, w.barred);
}
template <class A>
void VisitWord(A& a, RollFact& w) {
  All(a, w.roll, w.key, w.value);
}
template <class A>
void VisitWord(A& a, LightStart& w) {
  All(a, w.frame);
}
template <class A>
void VisitWord(A& a, LightTogether& w) {
  All(a, w.frames);
}
template <class A>
void VisitWord(A& a, LightName& w) {
  All(a, w.frame, w.name);
}
template <class A>
void VisitWord(A& a, ClockOffset& w) {
  All(a, w.body, w.offset_s);
}
template <class A>
void VisitWord(A& a, Follow& w) {
  All(a, w.frames, w.skin, w.percent);
  if constexpr (A::kReads) {
    if (a.version() < 3) return;
  }
  All(a, w.region);
}
template <class A>
void VisitWord(A& a, Touch& w) {
  All(a, w.frame, w.handles);
}
template <class A>
void VisitWord(A& a, Set& w) {
  All(a, w.setting, w.value);
}
template <class A>
void VisitWord(A& a, Settle& w) {
  All(a, w.frame, w.settled);
}
template <class A>
void VisitWord(A& a, KeepState& w) {
  All(a, w.frame, w.state.name, w.state.touch, w.state.follow, w.state.follow_skin, w.keep);
  if constexpr (A::kReads) {
    if (a.version() < 3) return;
  }
  All(a, w.state.follow_foliage, w.state.follow_sky);
}
template <class A>
void VisitWord(A& a, Frame& w) {
  All(a, w.frame, w.as_taken, w.framing);
  if constexpr (A::kReads) {
    if (!record::Sound(w.framing)) a.Fail();
  }
}
template <class A>
void VisitWord(A& a, KeepOrder& w) {
  All(a, w.order, w.dropped);
}
template <class A>
void VisitWord(A& a, Approve& w) {
  All(a, w.order, w.pictures, w.digests);
}
template <class A>
void VisitWord(A& a, TakeLook& w) {
  All(a, w.name, w.text);
}

// Makes the alternative with this number; numbers are the order in Word, which may only grow at its end.
template <std::size_t i = 0>
bool Emplace(Word& word, std::size_t which) {
  if constexpr (i == std::variant_size_v<Word>) {
    return false;
  } else {
    if (which != i) return Emplace<i + 1>(word, which);
    word.emplace<i>();
    return true;
  }
}

template <class F>
Bytes Write(std::uint16_t version, F&& fields) {
  ByteWriter writer;
  writer(version);
  fields(writer);
  return writer.Take();
}

template <class F>
bool Read(const Bytes& bytes, std::uint16_t known, F&& fields) {
  ByteReader reader(bytes);
  if (reader.version() < 1 || reader.version() > known) return false;
  fields(reader);
  return reader.ok() && reader.at_end();
}

// Writers only look at the record; Visit takes it by reference because readers change it.
template <class T>
T& Mutable(const T& value) {
  return const_cast<T&>(value);
}

}  // namespace

Bytes PackFacts(const record::Photo& photo) {
  return Write(kFactsVersion, [&](ByteWriter& a) { VisitFacts(a, Mutable(photo)); });
}
bool UnpackFacts(const Bytes& bytes, record::Photo& photo) {
  return Read(bytes, kFactsVersion, [&](ByteReader& a) { VisitFacts(a, photo); });
}

Bytes Pack(const record::Measured& measured) {
  return Write(kMeasuredVersion, [&](ByteWriter& a) { Visit(a, Mutable(measured)); });
}
bool Unpack(const Bytes& bytes, record::Measured& measured) {
  return Read(bytes, kMeasuredVersion, [&](ByteReader& a) { Visit(a, measured); });
}

Bytes Pack(const record::Correspondence& matches) {
  return Write(kCorrespondenceVersion, [&](ByteWriter& a) { Visit(a, Mutable(matches)); });
}
bool Unpack(const Bytes& bytes, record::Correspondence& matches) {
  return Read(bytes, kCorrespondenceVersion, [&](ByteReader& a) { Visit(a, matches); });
}

Bytes Pack(const record::FrameSolution& solution) {
  return Write(kSolutionVersion, [&](ByteWriter& a) { Visit(a, Mutable(solution)); });
}
bool Unpack(const Bytes& bytes, record::FrameSolution& solution) {
  return Read(bytes, kSolutionVersion, [&](ByteReader& a) { Visit(a, solution); });
}

Bytes Pack(const std::vector<PhotoId>& photos) {
  return Write(kPhotosVersion, [&](ByteWriter& a) { Visit(a, Mutable(photos)); });
}
bool Unpack(const Bytes& bytes, std::vector<PhotoId>& photos) {
  return Read(bytes, kPhotosVersion, [&](ByteReader& a) { Visit(a, photos); });
}

// Only to compare and to hash: orders are read as words.
Bytes Pack(const record::Order& order) {
  return Write(kWordVersion, [&](ByteWriter& a) { Visit(a, Mutable(order)); });
}

Bytes Pack(const Word& word) {
  return Write(kWordVersion, [&](ByteWriter& a) {
    a(static_cast<std::uint8_t>(word.index()));
    std::visit([&](auto& w) { VisitWord(a, w); }, Mutable(word));
  });
}
bool Unpack(const Bytes& bytes, Word& word) {
  return Read(bytes, kWordVersion, [&](ByteReader& a) {
    std::uint8_t which = 0;
    a(which);
    if (!Emplace(word, which)) return a.Fail();
    std::visit([&](auto& w) { VisitWord(a, w); }, word);
  });
}

}  // namespace samelight::session
