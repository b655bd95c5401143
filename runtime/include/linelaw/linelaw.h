/* Linelaw's runtime for other programs: judge an episode of line care by a compiled policy, as it happens.
 *
 * Findings judge documentation, not patients. What a program does with them is for the facility's policy,
 * local regulation and licensed clinical judgement to say.
 *
 * Handles are opaque. A policy handle never changes once it is read and may be used by any number of threads
 * at once; an episode handle is for one thread at a time. A policy may be freed before its episodes. The
 * library starts no threads, takes no signals and holds no locks between calls: after a fork both processes
 * may go on with their handles.
 *
 * Every function that can fail takes `linelaw_error** error`, which may be NULL; on failure it answers NULL
 * or 0 and, if `error` is given, sets *error to a handle that the caller frees. On success *error is left
 * alone. No exception ever leaves this library. A handle that is NULL is an error where there is an `error`,
 * is freed without effect, and has "" or 0 for everything else that is asked of it.
 *
 * Texts are UTF-8. A text that a function answers belongs to the handle it was asked of; a policy's lives as
 * long as the policy, an episode's until the next call with that episode, whether that succeeds or fails.
 * Texts that are given in may be freed once the call returns. Instants are RFC 3339, as in
 * "2026-03-02T10:15:00-04:00". The locale of the program changes nothing: numbers have a decimal point, and
 * letters are those of UTF-8.
 */
#ifndef LINELAW_LINELAW_H
#define LINELAW_LINELAW_H

#include <stddef.h>
#include <stdint.h>

#if defined(__GNUC__)
#define LINELAW_API __attribute__((visibility("default")))
#else
#define LINELAW_API
#endif

#ifdef __cplusplus
extern "C" {
#endif

typedef struct linelaw_policy linelaw_policy;
typedef struct linelaw_episode linelaw_episode;
typedef struct linelaw_error linelaw_error;

/* The version of this header; while the major one is 0, a new minor one may change the interface. */
#define LINELAW_VERSION_MAJOR 0
#define LINELAW_VERSION_MINOR 1
#define LINELAW_VERSION_PATCH 0

/* The version of the library that runs: "0.1.0". */
LINELAW_API const char* linelaw_version(void);

/* ---- errors */

/* "record.instant" …: docs/records.md lists those of records and events; docs/embedding.md those of policies
 * ("policy.…") and of calls ("call.…"). */
LINELAW_API const char* linelaw_error_code(const linelaw_error* error);
/* A sentence that says where, what and how to mend it. Never repeats a value. */
LINELAW_API const char* linelaw_error_message(const linelaw_error* error);
/* The place as a JSON pointer, and in bytes, in the text that the call was given: the record's, the event's
 * or the policy's (of which there are no bytes). "" and 0 where there is none. */
LINELAW_API const char* linelaw_error_pointer(const linelaw_error* error);
LINELAW_API uint64_t linelaw_error_offset(const linelaw_error* error);
LINELAW_API void linelaw_error_free(linelaw_error* error);

/* ---- policies */

/* Reads what `linelaw compile` wrote. */
LINELAW_API linelaw_policy* linelaw_policy_read(const char* json, size_t length, linelaw_error** error);
LINELAW_API void linelaw_policy_free(linelaw_policy* policy);
LINELAW_API const char* linelaw_policy_title(const linelaw_policy* policy);
LINELAW_API const char* linelaw_policy_edition(const linelaw_policy* policy);
/* The content hash that findings and summaries bear: of everything in the compiled policy, the places in its
 * text included, and not of the examples, which it does not hold. */
LINELAW_API const char* linelaw_policy_hash(const linelaw_policy* policy);

/* ---- episodes */

/* Begins an episode from a record (docs/records.md): its line, its patient, and the events so far, if any.
 * What is known of it ends at the record's `observed_until` where it has one, else at its last event. An
 * episode that is fed as things happen needs no `observed_until`. */
LINELAW_API linelaw_episode* linelaw_episode_begin(const linelaw_policy* policy, const char* record,
                                                   size_t length, linelaw_error** error);
LINELAW_API void linelaw_episode_free(linelaw_episode* episode);

/* Adds one event, as it would stand in the record's "events"; in any order of instants. A "removal" also sets
 * the line's removed_at. An event after `observed_until` moves it on to the event's own instant. An event
 * that would spoil the record, by the rules that quarantine one in a batch, is not added, and the episode
 * stays as it was. The whole episode is read anew, so that a record with its events costs less than they do
 * one by one. Answers 1, or 0 on failure. */
LINELAW_API int linelaw_episode_add(linelaw_episode* episode, const char* event, size_t length,
                                    linelaw_error** error);

/* The findings so far, one JSON object a line (docs/findings.md). They are judged to the record's
 * `observed_until` where it has one, else to the instant `now`, else (where `now` is NULL, or earlier) to the
 * last event. With `all` zero, only those that count against. A `now` more than a century after the record
 * begins is refused. */
LINELAW_API const char* linelaw_episode_findings(linelaw_episode* episode, const char* now, int all,
                                                 linelaw_error** error);

/* What is due as of the instant `now`, the earliest limit first: the tasks of `linelaw due --as-of`, however
 * far ahead, one JSON object a line (docs/findings.md, "What is due"). What happened after `now` (by
 * its `at`, whenever it was charted) is left out of account. Where `now` is NULL, as of the end of what is known. */
LINELAW_API const char* linelaw_episode_due(linelaw_episode* episode, const char* now, linelaw_error** error);

/* What the event would change if it were added, judged to the end of what would then be known: the findings
 * that would be new, those that would have another outcome, with the former one as "was", and those that
 * would be no more, with "gone": true. The episode stays as it was. */
LINELAW_API const char* linelaw_episode_would_change(linelaw_episode* episode, const char* event,
                                                     size_t length, linelaw_error** error);

/* What of the record is not used, one JSON object a line: values set aside ("code", "pointer", "offset",
 * "reason"), keys and event types that the vocabulary does not know ("unknown": "key" or "event", "name",
 * "times"), and events left out ("dropped": "identical repeat", or "after observed_until" of those that the
 * record began with; "times"). A pointer counts the record's own events, then those added, in their order;
 * an offset is into the text that was given, the record's or the event's. */
LINELAW_API const char* linelaw_episode_remarks(linelaw_episode* episode, linelaw_error** error);

#ifdef __cplusplus
}
#endif

#endif
