// Records of the session to bytes and back. Each blob starts with its version; blobs of a later version,
// damaged or cut ones give false. Doubles and floats come back bit for bit.
#pragma once

#include "record/correction.h"
#include "record/pair.h"
#include "record/photo.h"
#include "record/region.h"
#include "session/bytes.h"
#include "session/words.h"

namespace samelight::session {

// Everything of a photo that has no column of its own: capture, crop, raw colour, profile.
Bytes PackFacts(const record::Photo& photo);
bool UnpackFacts(const Bytes& bytes, record::Photo& photo);

Bytes Pack(const record::Measured& measured);
bool Unpack(const Bytes& bytes, record::Measured& measured);

Bytes Pack(const record::Correspondence& matches);
bool Unpack(const Bytes& bytes, record::Correspondence& matches);

Bytes Pack(const record::FrameSolution& solution);
bool Unpack(const Bytes& bytes, record::FrameSolution& solution);

Bytes Pack(const std::vector<PhotoId>& photos);
bool Unpack(const Bytes& bytes, std::vector<PhotoId>& photos);

Bytes Pack(const record::Order& order);

Bytes Pack(const Word& word);
bool Unpack(const Bytes& bytes, Word& word);

}  // namespace samelight::session
