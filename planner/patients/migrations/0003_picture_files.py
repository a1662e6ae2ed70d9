import django.db.models.deletion
import planner.trail.fields
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('patients', '0002_connector_height'),
        ('practice', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='PictureFile',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('kind', models.CharField(max_length=20)),
                ('on', models.DateField()),
                ('taken_by', models.CharField(blank=True, max_length=200)),
                ('shows', models.CharField(blank=True, max_length=120)),
                ('with_scale', models.BooleanField(null=True)),
                ('mirrored', models.BooleanField(null=True)),
                ('format', models.CharField(max_length=8)),
                ('width', models.PositiveIntegerField()),
                ('height', models.PositiveIntegerField()),
                ('size', models.PositiveIntegerField()),
                ('sha256', models.CharField(max_length=64)),
                ('shown_sha256', models.CharField(max_length=64)),
                ('shown_type', models.CharField(max_length=20)),
                ('at', models.DateTimeField()),
                ('entered_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='picture_files', to='patients.patient')),
            ],
            options={
                'ordering': ('patient', '-on', '-id'),
                'indexes': [models.Index(fields=['patient', '-on', '-id'], name='picture_file_newest'), models.Index(fields=['office', 'sha256'], name='picture_file_by_hash')],
            },
        ),
        migrations.CreateModel(
            name='PictureContent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('original', models.BinaryField()),
                ('shown', models.BinaryField()),
                ('small', models.BinaryField()),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
                ('file', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='content', to='patients.picturefile')),
            ],
        ),
        migrations.AddField(
            model_name='picturereading',
            name='file',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='readings', to='patients.picturefile'),
        ),
        migrations.CreateModel(
            name='PictureSetAside',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=planner.trail.fields.new_public_id, editable=False, max_length=16, unique=True)),
                ('reason', models.CharField(max_length=300)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('file', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='set_aside', to='patients.picturefile')),
                ('office', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='practice.office')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='set_aside_with_a_reason')],
            },
        ),
    ]
