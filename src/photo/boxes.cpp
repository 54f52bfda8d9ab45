#include "photo/boxes.h"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace glassine::photo {

namespace {

constexpr int deepest_box = 8;
constexpr std::array<std::string_view, 6> containers{"moov", "trak", "mdia",
                                                     "minf", "stbl", "dinf"};

struct Box {
    std::string_view type;
    std::uint64_t offset;
    std::uint64_t size;
    std::uint64_t body;  ///< offset of the body
    std::uint64_t end() const { return offset + size; }
};

bool possible_type(std::string_view type) {
    return std::ranges::all_of(type, [](unsigned char c) { return c >= 0x20 && c != 0x7F; });
}

class Walk {
  public:
    explicit Walk(Bytes file) : file_(file, true) {}

    std::optional<BoxProblem> run() {
        if (!file_.text_at(4, "ftyp")) return BoxProblem{"does not begin with a file type box", 0};
        tile(0, file_.size(), 0);
        return problem_;
    }

  private:
    void fail(std::string why, std::uint64_t offset) {
        if (!problem_) problem_ = BoxProblem{std::move(why), offset};
    }

    std::optional<Box> box_at(std::uint64_t at, std::uint64_t end, bool top) {
        const auto size = file_.number(at, 4);
        const auto type = file_.range(at + 4, 4);
        if (!size || !type || end - at < 8) {
            fail(fmt::format("{} bytes are left over behind the last box", end - at), at);
            return std::nullopt;
        }
        Box box{as_text(*type), at, *size, at + 8};
        if (*size == 1) {
            box.size = file_.number(at + 8, 8).value_or(0);
            box.body = at + 16;
        } else if (*size == 0 && top) {
            box.size = end - at;
        }
        if (!possible_type(box.type) || box.size < box.body - at) {
            fail(fmt::format("no box begins at byte {}, where one should", at), at);
            return std::nullopt;
        }
        if (box.size > end - at) {
            fail(fmt::format("cut off: the box \"{}\" at byte {} reaches {} bytes past the end",
                             box.type, at, box.size - (end - at)),
                 file_.size());
            return std::nullopt;
        }
        return box;
    }

    void tile(std::uint64_t at, std::uint64_t end, int depth) {
        while (at < end && !problem_) {
            const auto box = box_at(at, end, depth == 0);
            if (!box) return;
            look_into(*box, depth);
            at = box->end();
        }
    }

    void look_into(const Box& box, int depth) {
        if (depth < deepest_box && std::ranges::find(containers, box.type) != containers.end())
            tile(box.body, box.end(), depth + 1);
        else if (box.type == "meta" && depth == 0)
            tile(box.body + 4, box.end(), depth + 1);  // version and flags stand first
        else if (box.type == "stco" || box.type == "co64")
            chunks(box);
        else if (box.type == "iloc")
            items(box);
    }

    void chunks(const Box& box) {
        const unsigned width = box.type == "stco" ? 4 : 8;
        const auto count = file_.number(box.body + 4, 4).value_or(0);
        if (!inside(box.end(), box.body + 8, count * width))
            return fail("the table of chunks is longer than its box", box.offset);
        for (std::uint64_t i = 0; i < count; ++i) {
            const auto offset = file_.number(box.body + 8 + i * width, width).value_or(0);
            if (offset >= file_.size())
                return fail(
                    fmt::format("a chunk of picture data at byte {} lies behind the end", offset),
                    file_.size());
        }
    }

    /// ItemLocationBox, versions 0 to 2: only extents in the file itself (construction method 0).
    void items(const Box& box) {
        const auto version = file_.number(box.body, 1).value_or(9);
        const auto sizes = file_.number(box.body + 4, 2).value_or(0);
        if (version > 2) return;
        const unsigned offset_size = sizes >> 12 & 15;
        const unsigned length_size = sizes >> 8 & 15;
        const unsigned base_size = sizes >> 4 & 15;
        const unsigned index_size = version > 0 ? sizes & 15 : 0;
        std::uint64_t at = box.body + 6;
        const auto take = [&](unsigned width) {
            const auto value =
                width <= 8 && at < box.end() ? file_.number(at, width) : std::nullopt;
            at += width;
            return value.value_or(0);
        };
        const auto count = take(version < 2 ? 2 : 4);
        for (std::uint64_t i = 0; i < count && at < box.end(); ++i) {
            take(version < 2 ? 2 : 4);
            const auto method = version > 0 ? take(2) & 15 : 0;
            take(2);
            const auto base = take(base_size);
            const auto extents = take(2);
            if (index_size + offset_size + length_size == 0) continue;
            for (std::uint64_t k = 0; k < extents && at < box.end(); ++k) {
                take(index_size);
                const auto offset = base + take(offset_size);
                const auto length = take(length_size);
                if (method == 0 && !inside(file_.size(), offset, length))
                    return fail(fmt::format("cut off: picture data at byte {} ({} bytes) lies "
                                            "outside the file",
                                            offset, length),
                                file_.size());
            }
        }
    }

    ByteReader file_;
    std::optional<BoxProblem> problem_;
};

}  // namespace

std::optional<BoxProblem> check_boxes(Bytes file) {
    return Walk(file).run();
}

}  // namespace glassine::photo
