#include "glassine/photo/preview.h"

#include "photo/jpeg_decoder.h"
#include "photo/jpeg_head.h"
#include "photo/previews.h"
#include "photo/raw_decoder.h"
#include "photo/within.h"

#include <algorithm>

namespace glassine::photo {

namespace {

/// Rendered proxies: sharp enough to see what the frame was.
constexpr unsigned rendered_edge = 2048;
constexpr int rendered_quality = 90;

class Making {
  public:
    Making(Bytes raw, std::uint32_t smallest_edge, Budget* budget)
        : raw_(raw), smallest_edge_(smallest_edge), budget_(budget) {}

    Proxy run() {
        for (const Preview& preview : embedded_previews(raw_))
            if (consider(preview.jpeg)) return finish();
        if (render()) return finish();
        if (best_.empty()) {
            proxy_.why = "it holds no preview that decodes whole, and LibRaw cannot develop it";
            return std::move(proxy_);
        }
        return finish();
    }

  private:
    /// Remembers the largest preview that decodes; true when it is large enough.
    bool consider(const std::string& jpeg) {
        const auto leased = lease(budget_, coefficient_bytes(jpeg));
        const Decoded decoded = decode_jpeg(as_bytes(jpeg), 0);
        if (decoded.verdict != Verdict::whole) return false;
        const std::uint64_t pixels = std::uint64_t{decoded.width} * decoded.height;
        if (pixels > std::uint64_t{proxy_.width} * proxy_.height) {
            best_ = jpeg;
            proxy_.source = ProxySource::embedded;
            proxy_.width = decoded.width;
            proxy_.height = decoded.height;
        }
        return std::max(proxy_.width, proxy_.height) >= smallest_edge_;
    }

    bool render() {
        RawDecoder decoder(raw_);
        if (!decoder.known()) return false;
        const std::string jpeg = decoder.embedded_jpeg();
        if (!jpeg.empty() && consider(jpeg)) return true;
        const auto leased = lease(budget_, decoder.rendered_bytes());
        if (decoder.unpack() != RawDecoder::Unpacked::whole) return false;
        const Raster raster = decoder.render(rendered_edge);
        if (raster.empty() ||
            std::max(raster.width, raster.height) <= std::max(proxy_.width, proxy_.height))
            return false;
        best_ = encode_jpeg(raster, rendered_quality);
        proxy_.source = ProxySource::rendered;
        proxy_.width = raster.width;
        proxy_.height = raster.height;
        return !best_.empty();
    }

    /// Metadata in, and the result looked at once more as a whole file.
    Proxy finish() {
        const bool rendered = proxy_.source == ProxySource::rendered;
        std::string described =
            with_metadata_of(raw_, best_, proxy_.width, proxy_.height, rendered);
        const bool sound = decode_jpeg(as_bytes(described), 0).verdict == Verdict::whole;
        proxy_.jpeg = sound ? std::move(described) : std::move(best_);
        return std::move(proxy_);
    }

    static std::uint64_t coefficient_bytes(const std::string& jpeg) {
        JpegHead head;
        head.advance(as_bytes(jpeg));
        return head.coefficient_bytes();
    }

    Bytes raw_;
    std::uint32_t smallest_edge_;
    Budget* budget_;
    std::string best_;
    Proxy proxy_;
};

}  // namespace

Proxy make_proxy_within(Bytes raw, std::uint32_t smallest_edge, Budget* budget) {
    return Making(raw, smallest_edge, budget).run();
}

Proxy make_proxy(std::span<const std::byte> raw, std::uint32_t smallest_edge) {
    return make_proxy_within(raw, smallest_edge, nullptr);
}

}  // namespace glassine::photo
