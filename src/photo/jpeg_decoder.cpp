#include "photo/jpeg_decoder.h"

#include "photo/jpeg_error.h"
#include "photo/jpeg_head.h"
#include "photo/jpeg_source.h"

#include <algorithm>
#include <vector>

#include <fmt/format.h>

namespace glassine::photo {

namespace {

/// More scans than any encoder writes: a file made to keep a decoder busy.
constexpr int most_scans = 1000;
/// What libjpeg may take at most, whatever a file says of itself.
constexpr long most_jpeg_memory = 1L << 30;
/// Lines that never came are only drawn for pictures up to this size.
constexpr std::uint64_t most_pixels_to_fill = 300'000'000;
/// Cameras pad the last scan with a few zero bytes; more of them are a lost cluster.
constexpr std::size_t padding = 64;
/// So many new bytes join those that the decoder left over.
constexpr std::size_t join = 64u << 10;

enum class Step { header, start, rows, end, done, failed };

/// Sound JPEGs of kinds that libjpeg-turbo cannot decode.
bool unsupported(int code) {
    switch (code) {
        case JERR_SOF_UNSUPPORTED:
        case JERR_BAD_PRECISION:
        case JERR_ARITH_NOTIMPL:
        case JERR_NOT_COMPILED:
        case JERR_CONVERSION_NOTIMPL:
        case JERR_CCIR601_NOTIMPL:
        case JERR_FRACT_SAMPLE_NOTIMPL:
        case JERR_IMAGE_TOO_BIG:
        case JERR_NO_BACKING_STORE:
        case JERR_OUT_OF_MEMORY:
            return true;
        default:
            return false;
    }
}

/// Warnings about markings, not about picture data.
bool harmless(int code) {
    return code == JWRN_ADOBE_XFORM || code == JWRN_JFIF_MAJOR || code == JWRN_BOGUS_ICC ||
           code == JWRN_TOO_MUCH_DATA;
}

void cmyk_to_rgb(const JSAMPLE* cmyk, std::uint8_t* rgb, std::uint32_t pixels, bool inverted) {
    for (std::uint32_t i = 0; i < pixels; ++i, cmyk += 4, rgb += 3)
        for (int c = 0; c < 3; ++c) {
            const int ink = inverted ? cmyk[c] : 255 - cmyk[c];
            const int black = inverted ? cmyk[3] : 255 - cmyk[3];
            rgb[c] = static_cast<std::uint8_t>(ink * black / 255);
        }
}

}  // namespace

struct JpegDecoder::State {
    explicit State(unsigned edge);
    ~State() { jpeg_destroy_decompress(&decoder); }

    void run();
    void run_on(Bytes bytes);
    void configure();
    void row();
    void warned(int code);
    void damaged(std::string what);
    void failed();
    Bytes take(Bytes bytes);
    std::string scan_words() const;
    bool is_padding() const;
    bool active() const { return step != Step::done && step != Step::failed; }
    std::uint32_t line() const;
    void cut_off();

    JpegErrors errors;
    JpegSource source;
    jpeg_decompress_struct decoder{};
    jpeg_progress_mgr progress{};
    Step step = Step::header;
    unsigned thumbnail_edge;
    std::vector<std::byte> carry;  ///< shown before, but not yet consumed
    std::uint64_t offset = 0;      ///< of the next byte that comes
    std::uint64_t trailing = 0;
    std::vector<JSAMPLE> samples;
    std::vector<std::uint8_t> rgb;
    Shrink shrink;
    Decoded result;
    bool broken = false;  ///< the first damage was noted
    bool joined = false;  ///< from several scans
};

JpegDecoder::State::State(unsigned edge) : thumbnail_edge(edge) {
    errors.owner = this;
    errors.warned = [](void* self, int code) { static_cast<State*>(self)->warned(code); };
    decoder.err = &errors.manager;
    if (setjmp(errors.jump) != 0) {
        step = Step::failed;
        return;
    }
    jpeg_create_decompress(&decoder);
    decoder.mem->max_memory_to_use = most_jpeg_memory;
    source.attach(decoder);
    progress.progress_monitor = [](j_common_ptr common) {
        auto* d = reinterpret_cast<j_decompress_ptr>(common);
        if (d->input_scan_number > most_scans) {
            d->err->msg_code = JERR_NOT_COMPILED;
            d->err->error_exit(common);
        }
    };
    decoder.progress = &progress;
}

void JpegDecoder::State::configure() {
    result.width = decoder.image_width;
    result.height = decoder.image_height;
    joined = jpeg_has_multiple_scans(&decoder) != FALSE;
    decoder.do_fancy_upsampling = FALSE;
    decoder.do_block_smoothing = FALSE;
    decoder.dct_method = JDCT_ISLOW;
    const unsigned longest = std::max(decoder.image_width, decoder.image_height);
    unsigned eighths = 1;
    while (eighths < 8 && std::uint64_t{longest} * eighths / 8 < thumbnail_edge)
        eighths *= 2;
    decoder.scale_num = eighths;
    decoder.scale_denom = 8;
}

/// Goes on until the bytes shown are used up, the picture ends, or libjpeg gives up.
void JpegDecoder::State::run() {
    if (setjmp(errors.jump) != 0) {
        step = Step::failed;
        return;
    }
    while (active()) {
        switch (step) {
            case Step::header:
                if (jpeg_read_header(&decoder, TRUE) == JPEG_SUSPENDED) return;
                configure();
                step = Step::start;
                break;
            case Step::start:
                if (jpeg_start_decompress(&decoder) == FALSE) return;
                step = Step::rows;
                break;
            case Step::rows:
                if (decoder.output_scanline == decoder.output_height) {
                    step = Step::end;
                    break;
                }
                samples.resize(std::size_t{decoder.output_width} * decoder.output_components);
                {
                    JSAMPROW into = samples.data();
                    if (jpeg_read_scanlines(&decoder, &into, 1) == 0) return;
                }
                row();
                break;
            case Step::end:
                if (jpeg_finish_decompress(&decoder) == FALSE) return;
                step = Step::done;
                break;
            case Step::done:
            case Step::failed:
                return;
        }
    }
}

void JpegDecoder::State::row() {
    if (thumbnail_edge == 0) return;
    const std::uint32_t width = decoder.output_width;
    if (!shrink.wanted()) shrink = Shrink(width, decoder.output_height, thumbnail_edge);
    switch (decoder.out_color_space) {
        case JCS_RGB:
            shrink.add(samples.data());
            return;
        case JCS_GRAYSCALE:
            rgb.resize(std::size_t{width} * 3);
            for (std::size_t x = 0; x < width; ++x)
                rgb[x * 3] = rgb[x * 3 + 1] = rgb[x * 3 + 2] = samples[x];
            shrink.add(rgb.data());
            return;
        case JCS_CMYK:
            rgb.resize(std::size_t{width} * 3);
            cmyk_to_rgb(samples.data(), rgb.data(), width, decoder.saw_Adobe_marker != FALSE);
            shrink.add(rgb.data());
            return;
        default:
            return;
    }
}

void JpegDecoder::State::warned(int code) {
    if (broken || harmless(code)) return;
    if (code == JWRN_EXTRANEOUS_DATA && is_padding()) return;
    char text[JMSG_LENGTH_MAX];
    errors.manager.format_message(reinterpret_cast<j_common_ptr>(&decoder), text);
    damaged(text);
}

bool JpegDecoder::State::is_padding() const {
    const auto count = static_cast<std::size_t>(errors.manager.msg_parm.i[0]);
    if (count > padding) return false;
    return std::ranges::all_of(source.before_position(count),
                               [](std::byte b) { return b == std::byte{0}; });
}

/// The first line of the row of blocks at which the decoder is.
std::uint32_t JpegDecoder::State::line() const {
    const auto rows =
        std::uint64_t{decoder.input_iMCU_row} * std::max(decoder.max_v_samp_factor, 1) * 8;
    return static_cast<std::uint32_t>(std::min<std::uint64_t>(rows, decoder.image_height));
}

void JpegDecoder::State::damaged(std::string what) {
    broken = true;
    result.broken_offset = source.position();
    const bool in_lines =
        step == Step::rows || (step == Step::start && decoder.input_scan_number > 0);
    if (in_lines && line() < result.height) result.lost_from_line = line();
    result.why = fmt::format("damaged near byte {}: {}", *result.broken_offset, what);
    if (result.lost_from_line)
        result.why += fmt::format(", from line {} of {} on", *result.lost_from_line, result.height);
    result.why += scan_words();
}

std::string JpegDecoder::State::scan_words() const {
    if (decoder.input_scan_number <= 1) return {};
    return fmt::format(" (in scan {})", decoder.input_scan_number);
}

/// libjpeg gave up by itself.
void JpegDecoder::State::failed() {
    if (unsupported(errors.fatal_code)) {
        result.why = fmt::format("libjpeg-turbo cannot decode this kind of JPEG: {}", errors.text);
    } else {
        damaged(errors.text);
    }
}

/// The bytes are over, the picture is not. Goes on with nothing but end marks, as `djpeg` does:
/// that draws what came before the cut, and shows whether the last line was complete.
void JpegDecoder::State::cut_off() {
    const std::uint64_t size = offset + carry.size();
    const bool in_header = step == Step::header;
    const bool known_broken = broken;
    const std::uint32_t reached = line();
    const std::string scan = scan_words();
    const bool small = std::uint64_t{result.width} * result.height <= most_pixels_to_fill;
    if (small) {
        source.show(carry, offset);
        source.end();
        run();
    }
    if (known_broken) return;
    const bool every_line = small && !joined && !broken && step == Step::done;
    broken = true;
    result.broken_offset = size;
    result.lost_from_line.reset();
    if (in_header) {
        result.why = fmt::format("cut off after {} bytes, before the picture begins", size);
    } else if (every_line) {
        result.why = "cut off: every line is there, but the end mark of the JPEG is missing";
    } else {
        result.lost_from_line = reached;
        result.why = fmt::format("cut off after {} bytes, from line {} of {} on{}", size, reached,
                                 result.height, scan);
    }
}

void JpegDecoder::State::run_on(Bytes bytes) {
    source.show(bytes, offset);
    run();
    offset += source.consumed();
}

/// Gives back those of `bytes` that are still to be shown.
Bytes JpegDecoder::State::take(Bytes bytes) {
    if (source.to_skip() > 0) {
        const auto passed = std::min<std::uint64_t>(source.to_skip(), bytes.size());
        source.skipped(passed);
        offset += passed;
        return bytes.subspan(passed);
    }
    if (carry.empty()) {
        run_on(bytes);
        const Bytes left = bytes.subspan(source.consumed());
        if (!active()) return left;
        carry.assign(left.begin(), left.end());
        return {};
    }
    const std::size_t old = carry.size();
    const Bytes fresh = bytes.first(std::min(bytes.size(), join));
    carry.insert(carry.end(), fresh.begin(), fresh.end());
    run_on(carry);
    const std::size_t used = source.consumed();
    if (used >= old || !active()) {
        carry.clear();
        return bytes.subspan(used - std::min(used, old));
    }
    carry.erase(carry.begin(), carry.begin() + static_cast<std::ptrdiff_t>(used));
    return bytes.subspan(fresh.size());
}

JpegDecoder::JpegDecoder(unsigned thumbnail_edge)
    : state_(std::make_unique<State>(thumbnail_edge)) {}
JpegDecoder::~JpegDecoder() = default;

void JpegDecoder::feed(Bytes bytes) {
    State& s = *state_;
    while (!bytes.empty() && s.active())
        bytes = s.take(bytes);
    s.trailing += bytes.size();
}

Decoded JpegDecoder::finish() {
    State& s = *state_;
    if (s.active()) {
        s.cut_off();
    } else if (s.step == Step::failed && !s.broken) {
        s.failed();
    }
    Decoded& result = s.result;
    result.trailing_data = s.step == Step::done && s.trailing > 0;
    if (s.broken)
        result.verdict = Verdict::broken;
    else if (s.step == Step::done)
        result.verdict = Verdict::whole;
    result.thumbnail = s.shrink.take();
    return std::move(result);
}

Decoded decode_jpeg(Bytes bytes, unsigned thumbnail_edge, std::uint64_t at_most) {
    JpegHead head;
    head.advance(bytes);
    if (head.coefficient_bytes() > at_most) {
        Decoded result;
        result.width = head.width();
        result.height = head.height();
        result.why = fmt::format("decoding it would take {} MB of memory",
                                 head.coefficient_bytes() / 1'000'000);
        return result;
    }
    JpegDecoder decoder(thumbnail_edge);
    decoder.feed(bytes);
    return decoder.finish();
}

}  // namespace glassine::photo
