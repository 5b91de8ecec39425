// From the colour of a base photograph to a reflectance spectrum that a real material could have.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "base/matrix.h"
#include "color/spectrum.h"
#include "image/raster.h"

namespace samelight::simulate {

// Linear sRGB colour is split into its sum and its chromaticity (r, g) = (R, G) / (R + G + B). A grid over
// the chromaticities holds one value of type T per node; values in between are mixed barycentrically. A
// spectrum mixed so has exactly the mixed colour, because colour is linear in the spectrum.
class ChromaGrid {
 public:
  static constexpr int kSide = 48;  // cells along r and along g
  static constexpr int kNodes = (kSide + 1) * (kSide + 2) / 2;
  static constexpr int Node(int i, int j) { return j * (kSide + 1) - j * (j - 1) / 2 + i; }  // i + j <= kSide
  // Linear sRGB with sum 1 at a node.
  static Vec3 ColourOf(int i, int j) {
    const double r = static_cast<double>(i) / kSide, g = static_cast<double>(j) / kSide;
    return {r, g, 1 - r - g};
  }
  struct Place {
    int node[3];
    float weight[3];
    float sum;  // R + G + B
  };
  // Negative components count as zero; black and NaN give sum 0 at the neutral place.
  static Place Find(float r, float g, float b);
};

enum class Material {
  kSkin,
  kLeaf,
  kGrass,
  kSoil,
  kStone,
  kCotton,
  kDyedCloth,
  kPaint,
  kFlower,
  kWood,
  kSky,
  kSmooth,
  kCount
};

// Reflectance of `material` for every node; with colour, under D65 for the 2-degree observer, equal to the
// node's (sum 1). A mix of measured spectra of that material whose colours are near, brought to the exact
// colour by the smallest smooth change (exp of a mix of the colour-matching functions: the minimum
// cross-entropy solution, see for the idea Csiszar 1975, Ann. Probab. 3(1) 146). Positive everywhere. Nodes
// near the corners of the sRGB triangle are as saturated as no surface is, and their spectra are accordingly
// narrow. Computed once; thread safe.
const std::vector<color::Spectrum>& Uplift(Material material);

// Which materials a photograph is made of: for each of seven hues two materials, of which a slow random
// pattern over the picture chooses, so that one colour is not one spectrum.
struct Palette {
  static constexpr int kHues = 7;  // grey, red, skin and wood, yellow, green, blue, purple
  std::array<Material, kHues> first, second;
};
// The palette for a base photograph by its file name; unknown names get one with people in it.
Palette PaletteFor(const std::string& photo_stem);

// Reflectance per node for the first and the second materials of a palette.
struct Surfaces {
  std::vector<color::Spectrum> first, second;
};
Surfaces SurfacesOf(const Palette& palette);

}  // namespace samelight::simulate
