#include "glassine/store/client.h"

#include "store/encoding.h"
#include "store/http_client.h"
#include "store/object_headers.h"
#include "store/ranged_download.h"
#include "store/requests.h"
#include "store/xml.h"

#include <algorithm>
#include <utility>

#include <fmt/format.h>

namespace glassine::store {
namespace {

constexpr std::uint64_t mebibyte = 1u << 20;
/// The most that is copied in one request (Amazon S3 API Reference, CopyObject).
constexpr std::uint64_t largest_copy = 5ull << 30;
constexpr std::uint64_t copied_part = 1ull << 30;
constexpr const char* sending = "send the object";

class HttpClient : public Client {
  public:
    HttpClient(Settings settings, Credentials credentials, std::stop_token stop,
               std::unique_ptr<Backoff> backoff)
        : requests_(std::move(settings), std::move(credentials), std::move(stop),
                    std::move(backoff)) {}

    const Settings& settings() const override { return requests_.settings(); }

    void check_bucket(const std::string& bucket) override { list(bucket, "", "", "", 1); }

    std::optional<ObjectInfo> find(const Address& address) override {
        const HttpAnswer answer = requests_.run_accepting(
            {"HEAD", address, {}, {}, nullptr, "look at the object"}, {"NoSuchKey"});
        if (answer.status == 404) return std::nullopt;
        return object_info(address.key, answer);
    }

    Page list(const std::string& bucket, const std::string& prefix, const std::string& delimiter,
              const std::string& next, unsigned limit) override {
        Requests::Parameters parameters{{"list-type", "2"},
                                        {"encoding-type", "url"},
                                        {"max-keys", std::to_string(limit)},
                                        {"prefix", prefix}};
        if (!delimiter.empty()) parameters.emplace_back("delimiter", delimiter);
        if (!next.empty()) parameters.emplace_back("continuation-token", next);
        const XmlElement answer = ask({"GET", {bucket, ""}, parameters, {}, nullptr, "list"},
                                      "ListBucketResult", Address{bucket, prefix}.text());
        Page page;
        for (const XmlElement& element : answer.children) {
            if (element.name == "Contents") page.objects.push_back(listed(answer, element));
            if (element.name == "CommonPrefixes")
                page.prefixes.push_back(key_in(answer, element["Prefix"]));
        }
        if (answer["IsTruncated"] == "true") page.next = answer["NextContinuationToken"];
        return page;
    }

    std::unique_ptr<Download> get(const Address& address, std::uint64_t offset,
                                  std::uint64_t length, const std::string& etag) override {
        return ranged_download(requests_, address, offset, length, etag);
    }

    std::string put(const Address& address, const Body& body, const PutOptions& options) override {
        unsigned attempts = 0;
        const HttpAnswer answer = requests_.run_accepting(
            {"PUT", address, {}, object_headers(options, settings()), &body, sending},
            {"PreconditionFailed"}, &attempts);
        if (is_good(answer)) return object_info(address.key, answer).etag;
        // An earlier answer may have been lost: then the object that stands there is this one.
        const auto object = attempts > 1 ? find(address) : std::nullopt;
        std::string md5 = body.md5.hex();
        if (!object || object->etag != md5)
            throw error_for(answer, sending, address.text(), settings());
        return md5;
    }

    std::string begin_upload(const Address& address, const PutOptions& options) override {
        const XmlElement answer = ask({"POST",
                                       address,
                                       {{"uploads", ""}},
                                       object_headers(options, settings()),
                                       nullptr,
                                       "begin to send the object"},
                                      "InitiateMultipartUploadResult", address.text());
        return std::string(answer["UploadId"]);
    }

    std::string put_part(const Address& address, const std::string& upload, unsigned number,
                         const Body& body) override {
        const HttpAnswer answer =
            requests_.run({"PUT",
                           address,
                           {{"partNumber", std::to_string(number)}, {"uploadId", upload}},
                           {},
                           &body,
                           "send a part of the object"});
        return object_info(address.key, answer).etag;
    }

    void complete_upload(const Address& address, const std::string& upload,
                         std::span<const Part> parts, bool only_new) override {
        std::string list = "<CompleteMultipartUpload>";
        std::uint64_t size = 0;
        for (const Part& part : parts) {
            list += fmt::format("<Part><PartNumber>{}</PartNumber><ETag>{}</ETag></Part>",
                                part.number, xml_escaped('"' + part.etag + '"'));
            size += part.size;
        }
        list += "</CompleteMultipartUpload>";
        const Body body(std::as_bytes(std::span(list)));
        std::vector<std::string> headers{"Content-Type: application/xml"};
        if (only_new) headers.emplace_back("If-None-Match: *");
        unsigned attempts = 0;
        const HttpAnswer answer =
            requests_.run_accepting({"POST",
                                     address,
                                     {{"uploadId", upload}},
                                     headers,
                                     &body,
                                     "put the object's parts together"},
                                    {"NoSuchUpload", "PreconditionFailed"}, &attempts);
        if (is_good(answer)) return;
        // An earlier answer may have been lost on the way; what stood there before is another
        // object.
        const bool refused = answer.status == 412 && attempts == 1;
        const auto object = refused ? std::nullopt : find(address);
        if (!object || object->size != size)
            throw error_for(answer, "put the object's parts together", address.text(), settings());
    }

    void abandon_upload(const Address& address, const std::string& upload) override {
        requests_.run_accepting(
            {"DELETE", address, {{"uploadId", upload}}, {}, nullptr, "take back what was begun"},
            {"NoSuchUpload"});
    }

    std::vector<Upload> uploads(const std::string& bucket, const std::string& prefix) override {
        // Keys as they are: Ceph, asked to encode them, does so without saying it, and only in
        // part.
        std::vector<Upload> all;
        Requests::Parameters parameters{{"uploads", ""}, {"prefix", prefix}};
        for (;;) {
            const XmlElement answer =
                ask({"GET", {bucket, ""}, parameters, {}, nullptr, "list what was begun"},
                    "ListMultipartUploadsResult", Address{bucket, prefix}.text());
            for (const XmlElement& element : answer.children)
                if (element.name == "Upload")
                    all.push_back({std::string(element["Key"]), std::string(element["UploadId"]),
                                   listed_time(element["Initiated"])});
            if (answer["IsTruncated"] != "true") return all;
            parameters = {{"uploads", ""},
                          {"prefix", prefix},
                          {"key-marker", std::string(answer["NextKeyMarker"])},
                          {"upload-id-marker", std::string(answer["NextUploadIdMarker"])}};
        }
    }

    std::vector<Part> parts(const Address& address, const std::string& upload) override {
        std::vector<Part> all;
        Requests::Parameters parameters{{"uploadId", upload}};
        for (;;) {
            const HttpAnswer answer = requests_.run_accepting(
                {"GET", address, parameters, {}, nullptr, "list the parts of the object"},
                {"NoSuchUpload", "NoSuchKey"});  // the second is Ceph's word for the same
            if (!is_good(answer)) return {};
            const XmlElement list =
                xml_of(answer, "ListPartsResult", address.text(), "list the parts of the object");
            for (const XmlElement& element : list.children)
                if (element.name == "Part")
                    all.push_back({static_cast<unsigned>(number_of(element["PartNumber"], 0)),
                                   number_of(element["Size"], 0), unquoted(element["ETag"])});
            if (list["IsTruncated"] != "true") return all;
            parameters = {{"uploadId", upload},
                          {"part-number-marker", std::string(list["NextPartNumberMarker"])}};
        }
    }

    void copy(const Address& from, const Address& to) override {
        const auto object = find(from);
        if (!object)
            throw Error(Cause::not_found, "copy the object", from.text(), "it is not there", "");
        const std::string source =
            fmt::format("x-amz-copy-source: /{}/{}", from.bucket, percent_encode(from.key, true));
        if (object->size <= largest_copy) {
            requests_.run({"PUT", to, {}, {source}, nullptr, "copy the object"});
            return;
        }
        copy_by_parts(to, source, *object);
    }

    void remove(const Address& address) override {
        requests_.run_accepting({"DELETE", address, {}, {}, nullptr, "remove the object"},
                                {"NoSuchKey"});
    }

  private:
    /// A key as it is: stores encode them when asked, since XML cannot hold every character, and
    /// say whether they did.
    static std::string key_in(const XmlElement& answer, std::string_view text) {
        return answer["EncodingType"] == "url" ? percent_decode(text) : std::string(text);
    }

    static ObjectInfo listed(const XmlElement& answer, const XmlElement& element) {
        ObjectInfo info;
        info.key = key_in(answer, element["Key"]);
        info.size = number_of(element["Size"], 0);
        info.modified = listed_time(element["LastModified"]);
        info.etag = unquoted(element["ETag"]);
        return info;
    }

    XmlElement ask(const Requests::What& what, std::string_view root, const std::string& path) {
        return xml_of(requests_.run(what), root, path, what.tried);
    }

    static XmlElement xml_of(const HttpAnswer& answer, std::string_view root,
                             const std::string& path, const std::string& tried) {
        auto xml = parse_xml(answer.body);
        if (!xml || xml->name != root)
            throw Error(
                Cause::malformed, tried, path,
                "what answers is no object store: it sent something else than was asked for",
                "check endpoint in the studio file");
        return std::move(*xml);
    }

    void copy_by_parts(const Address& to, const std::string& source, const ObjectInfo& object) {
        PutOptions options;
        options.file_time = object.file_time;
        const std::string upload = begin_upload(to, options);
        std::vector<Part> parts;
        for (std::uint64_t offset = 0; offset < object.size; offset += copied_part) {
            const std::uint64_t length = std::min(copied_part, object.size - offset);
            const auto number = static_cast<unsigned>(parts.size() + 1);
            const XmlElement answer = ask(
                {"PUT",
                 to,
                 {{"partNumber", std::to_string(number)}, {"uploadId", upload}},
                 {source, fmt::format("x-amz-copy-source-if-match: \"{}\"", object.etag),
                  fmt::format("x-amz-copy-source-range: bytes={}-{}", offset, offset + length - 1)},
                 nullptr,
                 "copy a part of the object"},
                "CopyPartResult", to.text());
            parts.push_back({number, length, unquoted(answer["ETag"])});
        }
        complete_upload(to, upload, parts, false);
    }

    Requests requests_;
};

}  // namespace

std::uint64_t part_size_for(std::uint64_t size, std::uint64_t wanted) {
    const std::uint64_t least = (size + most_parts - 1) / most_parts;
    const std::uint64_t part = std::max(wanted, least);
    return (part + mebibyte - 1) / mebibyte * mebibyte;
}

std::unique_ptr<Client> http_client(Settings settings, Credentials credentials,
                                    std::stop_token stop) {
    return http_client(std::move(settings), std::move(credentials), std::move(stop),
                       std::make_unique<Backoff>());
}

std::unique_ptr<Client> http_client(Settings settings, Credentials credentials,
                                    std::stop_token stop, std::unique_ptr<Backoff> backoff) {
    return std::make_unique<HttpClient>(std::move(settings), std::move(credentials),
                                        std::move(stop), std::move(backoff));
}

}  // namespace glassine::store
