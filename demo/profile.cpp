#include "pictures.h"

#include <array>
#include <cmath>
#include <memory>
#include <stdexcept>

#include <lcms2.h>

namespace demo {

namespace {

struct Closer {
    void operator()(void* profile) const { cmsCloseProfile(profile); }
    void operator()(cmsToneCurve* curve) const { cmsFreeToneCurve(curve); }
    void operator()(cmsMLU* text) const { cmsMLUfree(text); }
};

/// IEC 61966-2-1, in 1024 steps: profiles of version 2 have no formula for it.
double srgb_light(double v) {
    return v <= .04045 ? v / 12.92 : std::pow((v + .055) / 1.055, 2.4);
}

cmsToneCurve* curve_of(Profile profile) {
    // 2 + 51/256: the gamma of the Adobe RGB (1998) encoding.
    if (profile == Profile::wide) return cmsBuildGamma(nullptr, 2.19921875);
    std::array<cmsUInt16Number, 1024> table{};
    for (std::size_t i = 0; i < table.size(); ++i) {
        double light = srgb_light(static_cast<double>(i) / (table.size() - 1));
        table[i] = static_cast<cmsUInt16Number>(std::lround(light * 65535));
    }
    return cmsBuildTabulatedToneCurve16(nullptr, table.size(), table.data());
}

void describe(cmsHPROFILE profile, const char* name) {
    std::unique_ptr<cmsMLU, Closer> text(cmsMLUalloc(nullptr, 1));
    cmsMLUsetASCII(text.get(), "en", "US", name);
    cmsWriteTag(profile, cmsSigProfileDescriptionTag, text.get());
}

std::string build(Profile which) {
    const cmsCIExyY white{0.3127, 0.3290, 1};
    const cmsCIExyYTRIPLE srgb{{0.64, 0.33, 1}, {0.30, 0.60, 1}, {0.15, 0.06, 1}};
    const cmsCIExyYTRIPLE wide{{0.64, 0.33, 1}, {0.21, 0.71, 1}, {0.15, 0.06, 1}};
    std::unique_ptr<cmsToneCurve, Closer> curve(curve_of(which));
    std::array<cmsToneCurve*, 3> curves{curve.get(), curve.get(), curve.get()};
    std::unique_ptr<void, Closer> profile(
        cmsCreateRGBProfile(&white, which == Profile::wide ? &wide : &srgb, curves.data()));
    if (!profile) throw std::runtime_error("the colour profile could not be made");
    cmsSetProfileVersion(profile.get(), 2.1);
    describe(profile.get(), which == Profile::wide ? "Adobe RGB (1998)" : "sRGB IEC61966-2.1");

    cmsUInt32Number size = 0;
    cmsSaveProfileToMem(profile.get(), nullptr, &size);
    std::string bytes(size, '\0');
    if (!cmsSaveProfileToMem(profile.get(), bytes.data(), &size)) {
        throw std::runtime_error("the colour profile could not be written");
    }
    // Header bytes 24 to 35 are the moment of creation: a fixed one, so that every run agrees.
    const std::array<char, 12> created{'\x07', '\xE0', 0, 1, 0, 1, 0, 0, 0, 0, 0, 0};
    std::copy(created.begin(), created.end(), bytes.begin() + 24);
    return bytes;
}

}  // namespace

std::string icc_profile(Profile profile) {
    static const std::string srgb = build(Profile::srgb);
    static const std::string wide = build(Profile::wide);
    switch (profile) {
        case Profile::srgb:
            return srgb;
        case Profile::wide:
            return wide;
        case Profile::none:
            break;
    }
    return {};
}

}  // namespace demo
