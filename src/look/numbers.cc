#include "look/numbers.h"

namespace samelight::look {

record::Look RecordFrom(const double* p) {
  const LookOf<double> l = LookFrom(p, 0.0, 0.0);
  record::Look r;
  for (int i = 0; i < 3; ++i) {
    for (int j = 0; j < 3; ++j) {
      r.m1[i][j] = l.m1[i][j];
      r.interimage[i][j] = l.interimage[i][j];
      r.m2[i][j] = l.m2[i][j];
    }
    r.layer[i] = {l.layer[i].gamma, l.layer[i].floor, l.layer[i].ceiling, l.layer[i].toe,
                  l.layer[i].shoulder};
  }
  for (int i = 0; i < record::kHueBumps; ++i)
    r.bumps[i] = {l.bump[i].hue_deg, l.bump[i].chroma, l.bump[i].lightness};
  return r;
}

}  // namespace samelight::look
