"""The knowledge files, read, typed and checked."""

from trubshoot.knowledge_base.loader import KnowledgeBase, load_knowledge

__all__ = ["KnowledgeBase", "load_knowledge"]
